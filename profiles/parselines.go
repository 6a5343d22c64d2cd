package profiles

import (
	"fmt"
	"slices"

	"echowright/preset"
)

// The most lines of a device and taps of a line, and parameters of all of them.
const (
	maxLines      = 64
	maxTaps       = 64
	maxParameters = 4096
)

// lines makes each line's and each tap's parameters from the one description
// that they share.
func (b *builder) lines() {
	l := b.file.Line
	if l == nil {
		b.add("line", "is missing: give [line] with its names and a [[line.parameter]] for each value that every line has")
		return
	}
	b.names("line.names", l.Names, maxLines)
	if t := b.file.Tap; t != nil {
		b.names("tap.names", t.Names, maxTaps)
		if len(l.Names)*(len(l.Parameters)+len(t.Names)*len(t.Parameters)) > maxParameters {
			b.add("tap.names", "make more than %d parameters with all lines: is this one device?", maxParameters)
			return
		}
	}
	for n, name := range l.Names[:min(len(l.Names), maxLines)] {
		if !slices.Contains(l.Names[:n], name) {
			b.line(n)
		}
	}
}

// structure looks at the lines when all parameters are known, those that the
// lines share too.
func (b *builder) structure() {
	for n, line := range b.device.Lines {
		if n == 0 {
			b.needTime(line)
		}
		b.sources(line)
		b.device.Lines[n].Loop = b.loop(n, line)
	}
	b.limits()
}

func (b *builder) names(path string, names []string, most int) {
	if len(names) < 1 || len(names) > most {
		b.add(path, "has %d names: from 1 to %d", len(names), most)
	}
	for i, name := range names {
		switch err := preset.CheckName(name); {
		case err != nil:
			b.add(path, "%v", err)
		case name == InputWord:
			b.add(path, "%q means the input: give the line another name", name)
		case slices.Contains(names[:i], name):
			b.add(path, "%q stands twice: each name once", name)
		}
	}
}

// line adds the n-th line: its taps' parameters first, then its own.
func (b *builder) line(n int) {
	l, t := b.file.Line, b.file.Tap
	line := Line{Name: l.Names[n], parameters: map[Role]int{}, named: t != nil}
	prefix := b.prefix(line)
	if t != nil {
		for k, name := range t.Names {
			tap := Tap{Name: name, parameters: map[Role]int{}}
			for i, p := range t.Parameters {
				p = p.rested(n*p.RestStep*len(t.Names)+k*p.RestStep).moved(l.stepsFile, n).moved(p.over(t.stepsFile), k)
				b.placed(spot{"tap.parameter", i, []string{prefix + name + "-", prefix, ""}}, p, tapRoles, tap.parameters)
			}
			line.Taps = append(line.Taps, tap)
		}
	}
	roles := lineRoles
	if t == nil {
		roles = slices.Concat(tapRoles, slices.DeleteFunc(slices.Clone(lineRoles), func(r Role) bool { return slices.Contains(tapRoles, r) || r == RoleFeedbackTap }))
	}
	for i, p := range l.Parameters {
		p = p.rested(n*p.RestStep).moved(p.over(l.stepsFile), n)
		b.placed(spot{"line.parameter", i, []string{prefix, ""}}, p, roles, line.parameters)
	}
	if t == nil {
		line.Taps = []Tap{{parameters: line.parameters}}
	}
	b.device.Lines = append(b.device.Lines, line)
}

// prefix is what the names of a line's parameters begin with: nothing where taps
// have names of their own and there is but one line.
func (b *builder) prefix(l Line) string {
	if l.named && len(b.file.Line.Names) == 1 {
		return ""
	}
	return l.Name + "-"
}

func (p parameterFile) rested(by int) parameterFile {
	if by != 0 && p.Rest != nil {
		rest := *p.Rest + by
		p.Rest = &rest
	}
	return p
}

// A spot is where a parameter of a line or tap stands in the profile, and what
// its name and those of its neighbours begin with.
type spot struct {
	list   string
	index  int
	within []string
}

// placed adds a parameter of a line or tap.
func (b *builder) placed(at spot, p parameterFile, roles []Role, into map[Role]int) {
	path, role := fmt.Sprintf("%s.%d", at.list, at.index), Role(p.Role)
	if role == "" {
		role = RoleOther
	}
	if p.Name == "" {
		p.Name = p.Role
	}
	switch {
	case !slices.Contains(roles, role):
		b.add(path+".role", "%q: %s", p.Role, belongs(role, roles))
		return
	case role == RoleOther && (p.Name == "" || p.Name == string(RoleOther)):
		b.add(path+".name", "is missing: a parameter without a role needs a name")
		return
	case role != RoleOther && indexOf(into, role) != None:
		b.add(path+".role", "%q stands twice: each role once in a line or tap", p.Role)
		return
	}
	if err := preset.CheckName(p.Name); err != nil {
		b.add(path+".name", "%v", err)
	}
	if role != RoleOther {
		into[role] = len(b.device.Parameters)
	}
	p.Name = at.within[0] + p.Name
	b.parameter(path, p, role, at.within)
}

// belongs says where a role has its place that has none here.
func belongs(role Role, here []Role) string {
	for _, other := range []struct {
		roles []Role
		table string
	}{{tapRoles, "[[tap.parameter]]"}, {lineRoles, "[[line.parameter]]"}, {sharedRoles, "[[parameter]]"}} {
		if slices.Contains(other.roles, role) {
			return "belongs into " + other.table
		}
	}
	return fmt.Sprintf("one of %v", here)
}

func (b *builder) needTime(l Line) {
	t := l.Taps[0]
	if t.Has(RoleTime) || t.Has(RoleNote) {
		return
	}
	list := "line.parameter"
	if l.named {
		list = "tap.parameter"
	}
	b.add(list, "none has the role time: a line without a time delays nothing")
}

// sources refuses choices of a source that are neither the input nor a line.
func (b *builder) sources(line Line) {
	i := line.Parameter(RoleSource)
	if i == None || b.device.Parameters[i].Scale == nil {
		return
	}
	for _, word := range b.device.Parameters[i].Scale.Words() {
		if word != InputWord && b.device.lineOfSource(word) == None {
			b.add("scale."+b.device.Parameters[i].Scale.Name+".choices", "%q is neither %q nor a line (%v)", word, InputWord, b.file.Line.Names)
			return
		}
	}
}
