package profiles

import (
	"fmt"
	"slices"

	"echowright/preset"
)

func (b *builder) parameters() {
	d := b.device
	if len(d.Parameters)+len(b.file.Parameters) > maxParameters {
		b.add("parameter", "more than %d with all lines: is this one device?", maxParameters)
		return
	}
	for i, p := range b.file.Parameters {
		path, role := fmt.Sprintf("parameter.%d", i), Role(p.Role)
		switch {
		case p.Role == "":
			role = RoleOther
		case !slices.Contains(sharedRoles, role):
			b.add(path+".role", "%q: one of %v, or none", p.Role, sharedRoles)
		case role != RoleOther && d.Shared(role) != None:
			b.add(path+".role", "a second %s: there is one", role)
		case role != RoleOther:
			d.shared[role] = len(d.Parameters)
			b.common(path, role)
		}
		if err := preset.CheckName(p.Name); err != nil {
			b.add(path+".name", "%v", err)
		}
		b.parameter(path, p, role, []string{""})
	}
	d.Dry = d.Shared(RoleDry)
}

// common gives a parameter of the device as a whole to all lines, where its role
// is one of theirs: one knob for the feedback of both lines.
func (b *builder) common(path string, role Role) {
	if !slices.Contains(commonRoles, role) {
		return
	}
	for _, l := range b.device.Lines {
		if l.Has(role) {
			b.add(path+".role", "%q: the lines have one each; it is one or the other", role)
			return
		}
		l.parameters[role] = len(b.device.Parameters)
	}
}

// wantedUnits are the units in which the arranger reckons.
var wantedUnits = map[Role]string{
	RoleTime: "ms", RoleLevel: "dB", RoleFeedback: "dB", RoleHighCut: "Hz", RoleLowCut: "Hz", RoleDry: "dB", RoleDrive: "dB",
	RolePolarity: "", RoleSource: "", RoleFeedbackTap: "", RoleFeedbackPolarity: "", RoleMix: "dB", RoleBalance: "%", RoleNote: "beats",
}

// parameter adds a parameter. Within is what the names of its neighbours begin
// with: in the same tap, in the same line, in the device.
func (b *builder) parameter(path string, p parameterFile, role Role, within []string) {
	out := Parameter{Name: p.Name, Role: role, Address: None, Of: None}
	if b.device.Parameter(p.Name) != None {
		b.add(path+".name", "%q stands twice: each parameter once", p.Name)
	}
	scale, ok := known(b, path+".scale", p.Scale, b.scales)
	if !ok {
		b.device.Parameters = append(b.device.Parameters, out)
		return
	}
	out.Scale = scale
	if unit, fixed := wantedUnits[role]; fixed && unit != scale.Unit && p.Of == "" {
		b.add(path+".scale", "%q is in %q: a %s is told in %q", p.Scale, scale.Unit, role, unit)
	}
	b.relate(path, p, within)
	out.Rest = scale.Low
	if p.Rest != nil {
		out.Rest = *p.Rest
	}
	if !scale.Holds(out.Rest) {
		b.add(path+".rest", "%d: the scale has codes %d to %d", out.Rest, scale.Low, scale.High())
	}
	if p.Address != nil {
		out.Address = *p.Address
		b.inRange(path+".address", out.Address, 0, 1<<28-1)
	}
	out.way = b.way(path, p.wayFile, p.Address != nil, scale)
	if p.Memory != nil {
		out.field = b.field(path+".memory", *p.Memory, scale)
	}
	b.device.Parameters = append(b.device.Parameters, out)
}
