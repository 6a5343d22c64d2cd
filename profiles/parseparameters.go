package profiles

import (
	"fmt"
	"slices"

	"echowright/preset"
)

// maxLines bounds the lines of a device.
const maxLines = 64

// lines makes each line's parameters from the one description that they share.
func (b *builder) lines() {
	l := b.file.Line
	if l == nil {
		b.add("line", "is missing: without delay lines there is nothing to arrange")
		return
	}
	b.inRange("line.names", len(l.Names), 1, maxLines)
	for n, name := range l.Names {
		if err := preset.CheckName(name); err != nil {
			b.add("line.names", "%v", err)
		}
		if slices.Contains(l.Names[:n], name) || name == InputWord {
			b.add("line.names", "%q stands twice, or means the input", name)
		}
		line := Line{Name: name, parameters: map[Role]int{}}
		for i, p := range l.Parameters {
			path := fmt.Sprintf("line.parameter.%d", i)
			b.lineParameter(path, p, n, &line)
		}
		b.device.Lines = append(b.device.Lines, line)
	}
	for n, line := range b.device.Lines {
		if n == 0 && !line.Has(RoleTime) {
			b.add("line.parameter", "none has the role time: a line without a time delays nothing")
		}
		b.sources(line)
	}
}

func (b *builder) lineParameter(path string, p parameterFile, n int, line *Line) {
	role := Role(p.Role)
	if !slices.Contains(lineRoles, role) {
		b.add(path+".role", "%q: one of %v", p.Role, lineRoles)
		return
	}
	if line.Has(role) {
		b.add(path+".role", "%q stands twice: each role once in a line", p.Role)
		return
	}
	p = p.moved(b.file.Line.stepsFile, n)
	p.Name = line.Name + "-" + p.Role
	line.parameters[role] = len(b.device.Parameters)
	b.parameter(path, p, role)
}

// sources refuses choices of a source that are neither the input nor a line.
func (b *builder) sources(line Line) {
	i := line.Parameter(RoleSource)
	if i == None || b.device.Parameters[i].Scale == nil {
		return
	}
	for _, word := range b.device.Parameters[i].Scale.words {
		if word != InputWord && b.device.lineOfSource(word) == None {
			b.add("scale."+b.device.Parameters[i].Scale.Name+".choices", "%q is neither %q nor a line (%v)", word, InputWord, b.file.Line.Names)
			return
		}
	}
}

var sharedRoles = []Role{RoleDry, RoleDrive}

func (b *builder) parameters() {
	for i, p := range b.file.Parameters {
		path, role := fmt.Sprintf("parameter.%d", i), Role(p.Role)
		switch {
		case p.Role == "":
			role = RoleOther
		case !slices.Contains(sharedRoles, role):
			b.add(path+".role", "%q: one of %v, or none", p.Role, sharedRoles)
		case role == RoleDry && b.device.Dry != None:
			b.add(path+".role", "a second dry level: there is one")
		case role == RoleDry:
			b.device.Dry = len(b.device.Parameters)
		}
		if err := preset.CheckName(p.Name); err != nil {
			b.add(path+".name", "%v", err)
		}
		b.parameter(path, p, role)
	}
}

// wantedUnits are the units in which the arranger reckons.
var wantedUnits = map[Role]string{
	RoleTime: "ms", RoleLevel: "dB", RoleFeedback: "dB", RoleHighCut: "Hz", RoleLowCut: "Hz", RoleDry: "dB", RoleDrive: "dB",
	RolePolarity: "", RoleSource: "",
}

func (b *builder) parameter(path string, p parameterFile, role Role) {
	out := Parameter{Name: p.Name, Role: role, Address: None}
	if b.device.Parameter(p.Name) != None {
		b.add(path+".name", "%q stands twice: each parameter once", p.Name)
	}
	scale, ok := known(b, path+".scale", p.Scale, b.scales)
	if !ok {
		b.device.Parameters = append(b.device.Parameters, out)
		return
	}
	out.Scale = scale
	if unit, fixed := wantedUnits[role]; fixed && unit != scale.Unit {
		b.add(path+".scale", "%q is in %q: a %s is told in %q", p.Scale, scale.Unit, role, unit)
	}
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
	out.way = b.way(path, p.wayFile, scale)
	if p.Memory != nil {
		out.field = b.field(path+".memory", *p.Memory, scale)
	}
	b.device.Parameters = append(b.device.Parameters, out)
}

// field checks that the bytes lie in the memory and can hold every code.
func (b *builder) field(path string, f fieldFile, s *Scale) field {
	out := field{at: f.At, bytes: max(1, f.Bytes), low: f.LowFirst, shift: f.Bit, bits: f.Bits}
	if b.file.Memory == nil {
		b.add(path, "is there, but no [memory] to lie in")
		return out
	}
	room := 8 * out.bytes
	switch {
	case f.Bytes < 0 || f.Bytes > 4:
		b.add(path+".bytes", "%d: 1 to 4", f.Bytes)
	case f.At < 0 || f.At+out.bytes > b.file.Memory.Bytes:
		b.add(path+".at", "%d: outside the memory, which has bytes 0 to %d", f.At, b.file.Memory.Bytes-1)
	case f.Bits < 0 || f.Bit < 0 || f.Bit+f.Bits > 8 || f.Bits > 0 && out.bytes > 1 || f.Bits == 0 && f.Bit > 0:
		b.add(path, "bit %d, bits %d: some of the 8 bits of one byte, or none named for whole bytes", f.Bit, f.Bits)
	case f.Bits > 0:
		room = f.Bits
	}
	if s.High() >= 1<<min(room, 30) {
		b.add(path, "has %d bits: code %d of scale %q does not fit", room, s.High(), s.Name)
	}
	return out
}
