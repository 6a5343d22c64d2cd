package arrange

import (
	"math"
	"slices"

	"echowright/preset"
	"echowright/profiles"
)

// A knob is a parameter that may be moved, and where it stands on its ladder.
type knob struct {
	parameter int
	ladder    ladder
	place     int
	start     int // where it stood at first
}

// A turn moves a knob by so many rungs. A move is turns made at once.
type turn struct{ knob, by int }
type move []turn

// A bench polishes a setting: it turns knobs, one or two at a time, as long as
// what is heard gets better.
type bench struct {
	knobs   []knob
	moves   []move
	near    bool // no knob may leave its start by more than a rung
	setting profiles.Setting
	hear    func(profiles.Setting) float64
	allowed func(profiles.Setting) bool
}

// newBench has every knob turned by a rung either way, alone and with any other,
// and the moves given besides.
func newBench(s profiles.Setting, knobs []knob, more []move) *bench {
	b := &bench{knobs: knobs, setting: s.Clone()}
	var single []turn
	for i := range knobs {
		k := &b.knobs[i]
		k.place = k.ladder.place(s.Codes[k.parameter])
		k.start = k.place
		if k.place >= 0 {
			single = append(single, turn{i, 1}, turn{i, -1})
		}
	}
	for _, t := range single {
		b.moves = append(b.moves, move{t})
	}
	b.moves = append(b.moves, more...)
	for i, t := range single {
		for _, u := range single[:i] {
			if t.knob != u.knob {
				b.moves = append(b.moves, move{t, u})
			}
		}
	}
	return b
}

// strides adds longer steps of single knobs, for a start that is far off.
func (b *bench) strides(steps ...int) {
	var long []move
	for i, k := range b.knobs {
		for _, by := range steps {
			if k.place >= 0 && by < len(k.ladder) {
				long = append(long, move{{i, by}}, move{{i, -by}})
			}
		}
	}
	b.moves = append(long, b.moves...)
}

// polish makes moves until none makes it better, or until enough is done. It gives
// the error.
func (b *bench) polish(enough func() bool) float64 {
	cost := b.hear(b.setting)
	for idle, n := 0, 0; idle < len(b.moves) && !enough() && !math.IsInf(cost, 0); n++ {
		idle++
		m := b.moves[n%len(b.moves)]
		if !b.turn(m, 1) {
			continue
		}
		if !b.allowed(b.setting) {
			b.turn(m, -1)
			continue
		}
		if c := b.hear(b.setting); c < cost*better {
			cost, idle = c, 0
			continue
		}
		b.turn(m, -1)
	}
	return cost
}

// turn makes a move, forwards or backwards; false, and nothing done, where a
// ladder ends.
func (b *bench) turn(m move, by int) bool {
	for _, t := range m {
		k := b.knobs[t.knob]
		place := k.place + t.by*by
		if k.place < 0 || place < 0 || place >= len(k.ladder) || b.near && max(place-k.start, k.start-place) > 1 {
			return false
		}
	}
	for _, t := range m {
		k := &b.knobs[t.knob]
		k.place += t.by * by
		b.setting.Codes[k.parameter] = k.ladder[k.place].code
	}
	return true
}

// polish moves codes as long as the error of the rounded setting falls. The direct
// sound and the cuts stay; a loop gain above the wish is not tried.
func (x *search) polish(d *draft) {
	knobs, behind := x.deck.knobs(*d)
	b := newBench(d.setting, knobs, behind)
	b.hear = func(s profiles.Setting) float64 { return x.hear(s, d.shift) }
	b.allowed = func(s profiles.Setting) bool { return x.deck.allowed(*d, s) }
	b.near = !x.deck.coarse && (x.whole || b.hear(d.setting) < onlyRounding)
	until := x.ear.work + polishWork
	d.cost = b.polish(func() bool { return x.ear.work > until })
	d.setting = b.setting
	d.cost += x.deck.setDry(x.wish, d.setting, d.shift) + x.effort(d)
}

// hear is the squared error of the setting's echoes over the wish, no signs; +Inf
// for echoes too dense to list.
func (x *search) hear(s profiles.Setting, shift preset.Decibels) float64 {
	x.ear.work += flowWork
	n, err := x.deck.device.Network(s)
	if err != nil {
		return math.Inf(1)
	}
	return x.ear.cost(n, 1/shift.Amplitude())
}

// knobs are the levels, times, feedbacks and polarities of the lines in use. Each
// time may also be moved with those of the lines behind it the other way.
func (k *deck) knobs(d draft) (knobs []knob, behind []move) {
	times := make([]int, len(d.lines))
	for i, v := range d.lines {
		line := k.device.Lines[i]
		times[i] = len(knobs)
		knobs = append(knobs, knob{parameter: line.Parameter(profiles.RoleTime), ladder: k.time})
		if k.level != nil {
			knobs = append(knobs, knob{parameter: line.Parameter(profiles.RoleLevel), ladder: k.level})
		}
		if v.gain > 0 {
			knobs = append(knobs, knob{parameter: line.Parameter(profiles.RoleFeedback), ladder: k.feedback})
		}
	}
	for i := range d.lines {
		var m move
		for j, v := range d.lines {
			if v.source == i {
				m = append(m, turn{times[j], -1})
			}
		}
		if len(m) > 0 {
			m = append(m, turn{times[i], 1})
			behind = append(behind, m, m.back())
		}
	}
	return knobs, behind
}

func (m move) back() move {
	back := slices.Clone(m)
	for i := range back {
		back[i].by = -back[i].by
	}
	return back
}

// allowed reports whether no line's loop is stronger than it may be.
func (k *deck) allowed(d draft, s profiles.Setting) bool {
	for i, v := range d.lines {
		f := k.device.Lines[i].Parameter(profiles.RoleFeedback)
		if v.gain > 0 && !withinLimit(k.device.Amplitude(f, s)*v.cut.left, v.loop) {
			return false
		}
	}
	return true
}

// withinLimit reports whether a gain is no more than its limit, but for the last
// digits of the arithmetic.
func withinLimit(gain, limit float64) bool { return gain <= limit*(1+1e-12) }
