package cli

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// parseSlots reads a list of slots: "0-63", "5", "0-7,12".
func parseSlots(text string) ([]int, error) {
	var all []int
	for part := range strings.SplitSeq(text, ",") {
		first, last, err := parseRange(strings.TrimSpace(part))
		if err != nil {
			return nil, fmt.Errorf("--slots %q: %w; write 0-63, 5, or 0-7,12", text, err)
		}
		for n := first; n <= last; n++ {
			if slices.Contains(all, n) {
				return nil, fmt.Errorf("--slots %q: slot %d stands twice; write each once", text, n)
			}
			all = append(all, n)
		}
	}
	return all, nil
}

// mostSlots keeps a slip of the finger from becoming a long list.
const mostSlots = 16384 // a 14-bit number

func parseRange(text string) (first, last int, err error) {
	from, to, isRange := strings.Cut(text, "-")
	if !isRange {
		to = from
	}
	first, err1 := strconv.Atoi(from)
	last, err2 := strconv.Atoi(to)
	switch {
	case err1 != nil || err2 != nil:
		return 0, 0, fmt.Errorf("%q is no slot and no range of slots", text)
	case first > last:
		return 0, 0, fmt.Errorf("%q runs backwards", text)
	case last-first >= mostSlots:
		return 0, 0, fmt.Errorf("%q is more slots than any device has", text)
	}
	return first, last, nil
}
