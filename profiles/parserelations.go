package profiles

import (
	"maps"
	"slices"
)

// A relation is a parameter whose meaning or reach depends on another one, which
// may stand further down in the profile.
type relation struct {
	path      string
	parameter int
	within    []string // what the name may be short of, its own tap's first
	of        string
	reachOf   string
	reach     map[string][]float64
}

// clockWord stands for the MIDI clock in of.
const clockWord = "clock"

// relate notes what a parameter depends on, to be looked up when all are known.
func (b *builder) relate(path string, p parameterFile, within []string) {
	if p.Of == "" && p.ReachOf == "" && p.Reach == nil {
		return
	}
	b.related = append(b.related, relation{
		path: path, parameter: len(b.device.Parameters), within: within,
		of: p.Of, reachOf: p.ReachOf, reach: p.Reach,
	})
}

// relations looks up what parameters depend on.
func (b *builder) relations() {
	before := len(b.found)
	for _, r := range b.related {
		if r.of != "" {
			b.of(r)
		}
	}
	for _, r := range b.related {
		if b.circular(r.parameter) {
			b.add(r.path+".of", "%q: comes back to itself, by way of others: let one of them stand for itself", r.of)
		}
	}
	for _, r := range b.related {
		if len(b.found) == before && r.of != "" {
			b.ends(r)
		}
		if r.reachOf != "" || r.reach != nil {
			b.reach(r)
		}
	}
}

// find is the parameter of that name: of the same tap, of the same line, or of
// the device.
func (b *builder) find(path, name string, within []string) int {
	for _, prefix := range within {
		if i := b.device.Parameter(prefix + name); i != None {
			return i
		}
	}
	b.add(path, "%q is no parameter: there is none of that name in the same tap or line, nor in the device as a whole", name)
	return None
}

func (b *builder) of(r relation) {
	p := &b.device.Parameters[r.parameter]
	if p.Scale == nil {
		return
	}
	unit := p.Scale.Unit
	if unit != unitPercent && unit != unitBeats {
		b.add(r.path+".of", "%q, but its scale is in %q: a share is told in %% or as a fraction, a note value as notes or in beats", r.of, unit)
		return
	}
	if r.of == clockWord {
		if unit != unitBeats {
			b.add(r.path+".of", "\"clock\", but its scale is in %q: what follows the clock is told as notes or in beats", unit)
		}
		p.Of = Clock
		return
	}
	p.Of = b.find(r.path+".of", r.of, r.within)
}

// ends refuses a time that in the end is a share of something else.
func (b *builder) ends(r relation) {
	p := b.device.Parameters[r.parameter]
	if p.Of < 0 || p.Scale == nil || p.Role != RoleTime && p.Role != RoleNote {
		return
	}
	unit := b.endUnit(p.Of)
	if unit != unitMillis && (unit != unitBPM || p.Scale.Unit != unitBeats) {
		b.add(r.path+".of", "%q is told in %q: a time is a share of a time, or note values of a tempo", r.of, unit)
	}
}

// endUnit is the unit in which a parameter comes out, at the end of what it is a
// share of.
func (b *builder) endUnit(i int) string {
	for range b.device.Parameters {
		p := b.device.Parameters[i]
		switch {
		case p.Scale == nil:
			return ""
		case p.Of == None:
			return p.Scale.Unit
		case p.Of == Clock || p.Scale.Unit == unitBeats:
			return unitMillis
		}
		i = p.Of
	}
	return ""
}

func (b *builder) circular(i int) bool {
	at := i
	for range b.device.Parameters {
		at = b.device.Parameters[at].Of
		if at < 0 {
			return false
		}
		if at == i {
			return true
		}
	}
	return false
}

func (b *builder) reach(r relation) {
	p := &b.device.Parameters[r.parameter]
	if r.reachOf == "" || r.reach == nil {
		b.add(r.path+".reach", "reach_of and reach go together: reach_of = \"mode\", reach = { short = [0, 500], long = [0, 2000] }")
		return
	}
	decides := b.find(r.path+".reach_of", r.reachOf, r.within)
	if decides == None || p.Scale == nil || b.device.Parameters[decides].Scale == nil {
		return
	}
	words := b.device.Parameters[decides].Scale.Words()
	out := &Reach{Of: decides, Ranges: map[string]Span{}}
	for _, word := range slices.Sorted(maps.Keys(r.reach)) {
		v := r.reach[word]
		switch {
		case !slices.Contains(words, word):
			b.add(r.path+".reach."+word, "%q is no choice of %s: there are %q", word, r.reachOf, words)
		case len(v) != 2 || v[0] > v[1]:
			b.add(r.path+".reach."+word, "%v: give the least and the greatest value, such as [0, 1000]", v)
		case !p.Scale.reaches(v[0], v[1]):
			low, high := p.Scale.Range()
			b.add(r.path+".reach."+word, "%v: no code of scale %q lies there, which runs from %v to %v", v, p.Scale.Name, low, high)
		default:
			out.Ranges[word] = Span{Low: v[0], High: v[1]}
		}
	}
	p.Reach = out
}

// reaches reports whether a number lies from low to high.
func (s *Scale) reaches(low, high float64) bool {
	if len(s.rising) == 0 {
		return false
	}
	v := s.number(s.AtMost(high))
	return v >= low && v <= high
}
