package profiles

import (
	"math"
	"slices"
)

// A codeOf is a parameter, by its index, and what it is set to.
type codeOf struct{ parameter, code int }

// loudness is the roles that make something heard or fed back, in the order in
// which they are turned down: the loop gain, what multiplies the echoes, the levels.
var loudness = []Role{RoleFeedback, RoleMix, RoleLevel}

// safeOrder is what is set, and in which order.
func (d *Device) safeOrder(s Setting) []codeOf {
	all := append(d.down(loudness...), d.down(RoleSource)...)
	all = append(all, d.outOfTheWay()...)
	bounded := d.bounded()
	set := func(i int) {
		if !d.restsUnsent(i, s) {
			all = append(all, codeOf{i, s.Codes[i]})
		}
	}
	for i, p := range d.Parameters {
		if p.Role != RoleSource && !slices.Contains(loudness, p.Role) && !slices.Contains(bounded, i) {
			set(i)
		}
	}
	for _, i := range slices.Backward(bounded) {
		set(i)
	}
	all = append(all, d.up(s, RoleSource)...)
	for _, r := range slices.Backward(loudness) {
		all = append(all, d.up(s, r)...)
	}
	return all
}

// down is every parameter of those roles that can be set alone, at the code at
// which it does no harm.
func (d *Device) down(roles ...Role) []codeOf {
	var all []codeOf
	for _, r := range roles {
		for i, p := range d.Parameters {
			if p.Role == r && d.Sendable(i) {
				all = append(all, codeOf{i, p.quiet()})
			}
		}
	}
	return all
}

// up is every parameter of that role that the setting wants otherwise than down
// left it.
func (d *Device) up(s Setting, r Role) []codeOf {
	var all []codeOf
	for i, p := range d.Parameters {
		if p.Role == r && (s.Codes[i] != p.quiet() || !d.Sendable(i)) && !d.restsUnsent(i, s) {
			all = append(all, codeOf{i, s.Codes[i]})
		}
	}
	return all
}

// restsUnsent reports whether a parameter cannot be set alone and need not be.
func (d *Device) restsUnsent(i int, s Setting) bool {
	return !d.Sendable(i) && s.Codes[i] == d.Parameters[i].Rest
}

// quiet is the code at which the parameter does no harm: the input for a source;
// silent for what makes something heard, or where no code is, the softest.
func (p Parameter) quiet() int {
	if p.Role == RoleSource {
		if code, ok := p.Scale.Choose(InputWord); ok {
			return code
		}
		return p.Rest
	}
	for _, nothing := range []func() (int, bool){p.Scale.Silent, p.Scale.Off} {
		if code, ok := nothing(); ok {
			return code
		}
	}
	return p.softest()
}

// softest is the code of the least amplitude, whatever its sign; at rest where the
// scale has no numbers.
func (p Parameter) softest() int {
	code, least := p.Rest, math.Inf(1)
	for _, codes := range [][]int{p.Scale.rising, p.Scale.turned} {
		if len(codes) > 0 && p.Scale.number(codes[0]) < least {
			code, least = codes[0], p.Scale.number(codes[0])
		}
	}
	return code
}
