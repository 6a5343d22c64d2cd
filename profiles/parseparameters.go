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
			b.add(path+".role", "%q: %s, or no role", p.Role, belongs(role, sharedRoles))
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

// fits refuses a scale on which a parameter of that role cannot be reckoned with.
func (b *builder) fits(path string, p parameterFile, role Role, s *Scale) {
	unit, fixed := wantedUnits[role]
	low, high := s.Range()
	switch {
	case role == RoleNote && p.Of == "":
		b.add(path+".of", "is missing: note values of which tempo? \"clock\" for the MIDI clock, or the name of the parameter that holds it")
	case role == RoleTime && p.Of == "" && (s.Unit == unitPercent || s.Unit == unitBeats):
		b.add(path+".of", "is missing: scale %q is in %q: of which parameter is the time a share or a multiple?", p.Scale, s.Unit)
	case role == RoleTempo && s.Unit != unitBPM && s.Unit != unitMillis:
		b.add("scale."+s.Name+".unit", "%q: a tempo is told in BPM, or in ms a beat", s.Unit)
	case role == RoleBalance && s.Unit == unitPercent && (low < 0 || high > 100):
		b.add("scale."+s.Name, "runs from %v to %v %%: a balance from 0, the direct sound alone, to 100, the echoes alone", low, high)
	case (role == RolePolarity || role == RoleFeedbackPolarity) && !slices.Equal(slices.Sorted(slices.Values(s.Words())), []string{WordInverted, WordNormal}):
		b.add("scale."+s.Name+".choices", "%v: a polarity's choices are called %q and %q, in the order of their codes", s.Words(), WordNormal, WordInverted)
	case fixed && unit != s.Unit && p.Of == "":
		b.add(path+".scale", "%q is in %q: a %s is told in %q", p.Scale, s.Unit, role, unit)
	}
}

// parameter adds a parameter. Within is what the names of its neighbours begin
// with: in the same tap, in the same line, in the device.
func (b *builder) parameter(path string, p parameterFile, role Role, within []string) {
	out := Parameter{Name: p.Name, Role: role, Address: None, Of: None}
	if b.device.Parameter(p.Name) != None {
		b.add(path+".name", "%q stands twice: each parameter once", p.Name)
	}
	scale := b.scales[p.Scale]
	if _, stated := b.file.Scales[p.Scale]; !stated {
		known(b, path+".scale", p.Scale, b.file.Scales)
	}
	if scale == nil { // wrong itself, and said so
		b.device.Parameters, b.paths = append(b.device.Parameters, out), append(b.paths, path)
		return
	}
	out.Scale = scale
	b.fits(path, p, role, scale)
	b.relate(path, p, within)
	out.Rest = scale.Low
	if rising := scale.Rising(); role == RoleMix && len(rising) > 0 {
		out.Rest = rising[len(rising)-1] // a mix at rest lets everything through
	}
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
	b.device.Parameters, b.paths = append(b.device.Parameters, out), append(b.paths, path)
}
