package songclock

import (
	"math"
	"time"

	"echowright/midi"
	"echowright/preset"
)

// PerBeat is how many clocks a quarter note has, PerPosition how many a step of
// the song position pointer, a sixteenth (MIDI 1.0 Detailed Specification 4.2.1,
// pages 27 and 30).
const (
	PerBeat     = 24
	PerPosition = 6
)

// A Follower hears MIDI clock and tells its tempo. The zero value is ready. It is
// of a fixed size and allocates nothing.
type Follower struct {
	now  estimate // what is told
	held estimate // what was known before the last break, until the new is as good
	kept bool     // what is told is what was known before
	used int      // clocks that the line has

	lines lines
	noise noise
	gaps  gaps
	slips slips
	place place

	heard bool    // there is a last
	last  float64 // when the last clock came, ms
	due   float64 // when the next is expected, ms
	stray int     // clocks in a row that came far off
}

// A State is what a follower has understood.
type State struct {
	Tempo   preset.BPM // 0 as long as none is known; held where the clock is gone
	Settled bool       // two beats were heard, or the tempo from before a stop holds on
	Running bool       // between start or continue and stop
	Clocks  int        // since the beginning of the song, the lost ones too
	Missing int        // clocks that did not come, since the follower began
	Doubled int        // clocks that came once too often
}

// State is what was understood up to the last message.
func (f *Follower) State() State {
	s := State{Running: f.place.running, Clocks: f.place.clocks, Missing: f.place.missing, Doubled: f.place.doubled}
	if f.now.period > 0 {
		s.Tempo = preset.TempoOf(preset.Millis(f.now.period * PerBeat))
		s.Settled = f.used >= 2*PerBeat || f.kept
	}
	return s
}

// Hear takes one message, at a time counted from any fixed moment. Clock, start,
// stop, continue and song position mean something; the rest is passed over.
func (f *Follower) Hear(message []byte, at time.Duration) {
	switch {
	case len(message) == 1 && message[0] == midi.TimingClock:
		f.clock(float64(at) / float64(time.Millisecond))
	case len(message) == 1 && message[0] == midi.Start:
		f.place.start()
		f.interrupted()
	case len(message) == 1 && message[0] == midi.Continue:
		f.place.running = true
		f.interrupted()
	case len(message) == 1 && message[0] == midi.Stop:
		f.place.running = false
	case len(message) == 3 && message[0] == midi.SongPointer:
		f.place.point(message[1], message[2])
	}
}

// Gone reports whether the clock has stopped coming: nothing for a beat.
func (f *Follower) Gone(at time.Duration) bool {
	return !f.heard || float64(at)/float64(time.Millisecond)-f.last > f.silence()
}

// slowest and fastest are the periods of the slowest and fastest tempo there is.
const (
	slowest = 60_000 / float64(preset.MinTempo) / PerBeat
	fastest = 60_000 / float64(preset.MaxTempo) / PerBeat
)

// silence is how long no clock has to come for the line to end.
func (f *Follower) silence() float64 {
	if f.now.period == 0 {
		return slowest
	}
	return max(slowest, PerBeat*f.now.period)
}

// interrupted ends the line: what comes next need not lie on it, though most often
// it has the same tempo. A sender may begin its clock anew at a start.
func (f *Follower) interrupted() {
	f.held, f.used, f.stray = f.now, 0, 0
	f.lines.clear()
	f.gaps, f.slips = gaps{}, slips{}
	f.noise.breakOff()
}

func (f *Follower) clock(t float64) {
	if f.heard && (t < f.last || t-f.last > f.silence()) {
		f.interrupted()
		f.heard = false
	}
	gap := t - f.last
	if first := !f.heard; first || gap >= twoBytes {
		if !first {
			f.gaps.add(gap)
		}
		f.last, f.heard = t, true
	}
	if f.used < PerBeat {
		f.gather(t, gap)
	} else {
		f.follow(t, gap)
	}
}

// gather counts a beat of clocks before it says anything new about their tempo:
// with fewer, one that is missing is not told from one that is late.
func (f *Follower) gather(t, gap float64) {
	if f.used > 0 && gap < twoBytes && !f.mayBe(gap) {
		f.place.doubled++
		return
	}
	f.place.count(1)
	f.lines.add(mark{at: t, number: f.used})
	f.noise.hear(t, true)
	if f.used++; f.used < PerBeat {
		return
	}
	steps, ok := f.lines.renumber(f.gaps.median(), f.noise.most())
	if !ok { // no tempo that there is
		f.interrupted()
		return
	}
	f.place.correct(steps - (PerBeat - 1))
	f.estimate()
}

// mayBe reports whether so narrow a gap may be mere jitter, which two clocks have.
func (f *Follower) mayBe(gap float64) bool {
	return f.gaps.n >= few && f.gaps.median()-gap < misplaced*math.Sqrt2*f.noise.sigma()
}

// follow takes a clock on a line that is known.
func (f *Follower) follow(t, gap float64) {
	if deny(&f.gaps, &f.slips, f.now.period, f.noise.sigma()) {
		f.again(t)
		return
	}
	period, sigma := f.now.period, f.noise.sigma()
	off := t - f.due
	step := numberOf(off, period, f.noise.most())
	f.place.count(step)
	if gap >= twoBytes {
		f.slips.note(step)
	}
	if step == 0 {
		return
	}
	f.noise.hear(t, step == 1)
	off -= float64(step-1) * period
	f.due += float64(step) * period
	aside := isStray(off, period, sigma)
	f.lines.add(mark{at: t, number: f.lines.newest().number + step, aside: aside})
	f.used += step
	switch {
	case !aside:
		f.due += pull * off
		f.stray = 0
	case f.stray+1 < believed:
		f.stray++
	default:
		f.lines.believe(believed)
		f.due, f.stray = t+period, 0
	}
	f.estimate()
}

// again begins the line anew, with the clocks of late if most of the gaps have the
// other tempo already.
func (f *Follower) again(t float64) {
	late, back := f.gaps, 0
	if late.off(f.now.period, f.noise.sigma(), doubtful) != 0 {
		back = len(late.ms) / 2
	}
	f.interrupted()
	f.place.count(1)
	f.noise.hear(t, true)
	for i := back; i >= 0; i-- {
		f.lines.add(mark{at: t - late.sum(i), number: f.used})
		f.used++
	}
	f.gaps = late
}

// estimate draws the lines anew. The tempo from before a break stays as long as it
// is the better known of the two and the new clocks do not deny it.
func (f *Follower) estimate() {
	e := f.lines.estimate(f.noise.sigma(), f.held)
	if !(e.period >= fastest && e.period <= slowest) { // no tempo that there is
		f.interrupted()
		return
	}
	if f.used == PerBeat {
		f.due = e.next
	}
	if f.kept = e.period == f.held.period; !f.kept {
		f.held = estimate{}
	}
	f.now = e
}
