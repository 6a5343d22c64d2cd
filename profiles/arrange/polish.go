package arrange

import (
	"errors"
	"math"

	"echowright/preset"
	"echowright/profiles"
)

// A move changes a few codes by a step each.
type move []change

type change struct{ parameter, by int }

const (
	// How many settings are listened to at most for one draft, and how many echoes
	// in all of them.
	mostTries = 400
	mostHeard = 40_000
	// An error that falls by less than this share is the same error.
	better = 1 - 1e-6
)

// polish moves codes as long as the error of the rounded setting falls. The
// direct sound and the cuts stay; a loop gain above the wish is not tried.
func (k *deck) polish(w *wish, made *draft) error {
	direct := k.directCost(w, made.setting, made.shift)
	cost, err := k.cost(w, made.setting, made.shift)
	if err != nil {
		return err
	}
	most := min(mostTries, mostHeard/max(1, len(w.train)))
	moves, start := k.moves(*made), made.setting.Clone()
	for tries, idle := 0, 0; tries < most && !math.IsInf(cost, 0) && idle < len(moves); tries++ {
		m := moves[tries%len(moves)]
		idle++
		s, ok := k.moved(*made, start, m)
		if !ok {
			continue
		}
		c, err := k.cost(w, s, made.shift)
		if err != nil {
			return err
		}
		if c < cost*better {
			made.setting, cost, idle = s, c, 0
		}
	}
	made.cost = cost + direct + made.finer
	return nil
}

// cost is the squared error of the setting's echoes over the wish, no signs; +Inf
// for echoes too dense to list.
func (k *deck) cost(w *wish, s profiles.Setting, shift preset.Decibels) (float64, error) {
	got, err := k.heard(s, shift, preset.TrainFloor, w.limit)
	switch {
	case errors.Is(err, preset.ErrTooDense):
		return math.Inf(1), nil
	case err != nil:
		return 0, err
	}
	return apart(w.plain, w.sheet.draw(got, false)) / w.power, nil
}

// moves lists what is tried: each level, time and feedback one step up or down,
// and each time with the times of the lines behind it the other way.
func (k *deck) moves(made draft) []move {
	var all []move
	both := func(m ...change) {
		back := make(move, len(m))
		for i, c := range m {
			back[i] = change{c.parameter, -c.by}
		}
		all = append(all, m, back)
	}
	for i, p := range made.lines {
		line := k.device.Lines[i]
		if line.Has(profiles.RoleLevel) {
			both(change{line.Parameter(profiles.RoleLevel), 1})
		}
		time := change{line.Parameter(profiles.RoleTime), 1}
		both(time)
		if with := k.behind(made, i); len(with) > 0 {
			both(append(move{time}, with...)...)
		}
		if p.gain > 0 {
			both(change{line.Parameter(profiles.RoleFeedback), 1})
		}
	}
	return all
}

// behind is the step back of every line that has this one for its source.
func (k *deck) behind(made draft, line int) move {
	var m move
	code, ok := k.device.SourceCode(k.device.Lines[0], line)
	for i := range made.lines {
		l := k.device.Lines[i]
		if source := l.Parameter(profiles.RoleSource); ok && source != profiles.None && made.setting.Codes[source] == code {
			m = append(m, change{l.Parameter(profiles.RoleTime), -1})
		}
	}
	return m
}

// moved is the setting after a move; not ok if the device has no such code, a
// level would lie above 0 dB, a loop gain above the wish, or a line that has a head
// of its own would leave its place by more than a step.
func (k *deck) moved(made draft, start profiles.Setting, m move) (profiles.Setting, bool) {
	s := made.setting.Clone()
	for _, c := range m {
		s.Codes[c.parameter] += c.by
		p := k.device.Parameters[c.parameter]
		if !p.Scale.Holds(s.Codes[c.parameter]) {
			return s, false
		}
		if v := p.Scale.Value(s.Codes[c.parameter]); p.Role == profiles.RoleLevel && v.Word == "" && v.Number > 0 {
			return s, false
		}
	}
	for i, p := range made.lines {
		if !p.makeshift && k.strays(i, start, s) {
			return s, false
		}
		if f := k.device.Lines[i].Parameter(profiles.RoleFeedback); p.gain > 0 && !k.allowed(s.Codes[f], p.cut.left, p.loop) {
			return s, false
		}
	}
	return s, true
}

// strays reports whether a line's time or level lies more than a step from where
// it started: two lines that nearly coincide could otherwise trade places and
// levels for a gain in the error that nobody hears.
func (k *deck) strays(line int, start, s profiles.Setting) bool {
	for _, r := range []profiles.Role{profiles.RoleTime, profiles.RoleLevel} {
		if i := k.device.Lines[line].Parameter(r); i != profiles.None && max(s.Codes[i]-start.Codes[i], start.Codes[i]-s.Codes[i]) > 1 {
			return true
		}
	}
	return false
}
