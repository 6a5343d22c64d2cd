package profiles

import "fmt"

// A codeRange is the codes from first to last, both included.
type codeRange struct{ first, last int }

// codeRanges are codes as a profile names them: one code, [first, last], or a
// list of such pairs.
type codeRanges []codeRange

func (r codeRanges) hold(code int) bool {
	for _, one := range r {
		if code >= one.first && code <= one.last {
			return true
		}
	}
	return false
}

func (r codeRanges) first() (code int, ok bool) {
	if len(r) == 0 {
		return 0, false
	}
	return r[0].first, true
}

// UnmarshalTOML reads 0, [0, 63] and [[0, 3], [60, 63]].
func (r *codeRanges) UnmarshalTOML(tree any) error {
	if code, ok := tree.(int64); ok {
		*r = codeRanges{{int(code), int(code)}}
		return nil
	}
	list, _ := tree.([]any)
	if one, ok := pairOf(list); ok {
		*r = codeRanges{one}
		return nil
	}
	for _, item := range list {
		inner, _ := item.([]any)
		one, ok := pairOf(inner)
		if !ok {
			*r = nil
			break
		}
		*r = append(*r, one)
	}
	if len(*r) == 0 {
		return fmt.Errorf("is no range of codes; write one code, [first, last], or a list of such pairs")
	}
	return nil
}

func pairOf(list []any) (codeRange, bool) {
	if len(list) != 2 {
		return codeRange{}, false
	}
	first, ok1 := list[0].(int64)
	last, ok2 := list[1].(int64)
	return codeRange{int(first), int(last)}, ok1 && ok2
}

// meet is a code that lies in ranges of both.
func (r codeRanges) meet(other codeRanges) (code int, ok bool) {
	for _, a := range r {
		for _, b := range other {
			if first := max(a.first, b.first); first <= min(a.last, b.last) {
				return first, true
			}
		}
	}
	return 0, false
}

// maxRanges bounds what is looked through for each code.
const maxRanges = 128

// check refuses ranges the wrong way round or outside the codes.
func (r codeRanges) check(key string, low, high int) *mistake {
	if len(r) > maxRanges {
		return wrong(key, "has %d ranges: %d at most", len(r), maxRanges)
	}
	for _, one := range r {
		if one.first > one.last || one.first < low || one.last > high {
			return wrong(key, "[%d, %d]: give codes from %d to %d, the lesser first", one.first, one.last, low, high)
		}
	}
	return nil
}
