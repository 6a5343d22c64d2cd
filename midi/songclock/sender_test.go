package songclock

import (
	"math"
	"math/rand/v2"
	"time"

	"echowright/midi"
)

// A sender makes clock as a sequencer would, and a cable that is not perfect.
type sender struct {
	at     float64 // ms: where the clock stands, without jitter
	last   float64 // when the last byte left: none overtakes another
	jitter func() float64
	to     *Follower
}

func newSender(f *Follower, jitter func() float64) *sender {
	return &sender{at: 1000, jitter: jitter, to: f}
}

// gaussian is jitter of standard deviation sigma, uniform jitter within ± width, ms.
func gaussian(r *rand.Rand, sigma float64) func() float64 {
	return func() float64 { return sigma * r.NormFloat64() }
}

func uniform(r *rand.Rand, width float64) func() float64 {
	return func() float64 { return width * (2*r.Float64() - 1) }
}

func none() float64 { return 0 }

// period is the time from clock to clock: 60000/(24·BPM) ms (MIDI 1.0 Detailed
// Specification 4.2.1, page 30: 24 clocks a quarter note).
func period(tempo float64) float64 { return 60_000 / (24 * tempo) }

// wait lets the time of one clock pass.
func (s *sender) wait(tempo float64) { s.at += period(tempo) }

// send puts a clock on the cable now.
func (s *sender) send() { s.hear(midi.TimingClock) }

func (s *sender) hear(message ...byte) {
	s.last = max(s.last, s.at+s.jitter())
	s.to.Hear(message, millis(s.last))
}

// clocks sends so many at a tempo.
func (s *sender) clocks(n int, tempo float64) {
	for range n {
		s.wait(tempo)
		s.send()
	}
}

func (s *sender) tempo() float64 { return float64(s.to.State().Tempo) }

func millis(v float64) time.Duration { return time.Duration(math.Round(v * float64(time.Millisecond))) }

// off is how far a tempo lies off another, as a share.
func off(got, want float64) float64 { return math.Abs(got/want - 1) }

// ramp is a tempo that goes evenly, beat for beat, from one to another: after b of
// so many beats it is from + (to−from)·b/beats, and the time until then is
// ∫ 60/tempo db = 60·beats/(to−from) · ln(tempo/from) seconds.
type ramp struct{ from, to, beats float64 }

func (r ramp) tempo(beat float64) float64 {
	return r.from + (r.to-r.from)*min(1, max(0, beat/r.beats))
}

func (r ramp) at(beat float64) (ms float64) {
	if beat > r.beats {
		return r.at(r.beats) + (beat-r.beats)*60_000/r.to
	}
	return 60_000 * r.beats / (r.to - r.from) * math.Log(r.tempo(beat)/r.from)
}

// noticeable is the share of a long delay that can just be noticed: 2.5 %
// (Friberg & Sundberg, J. Acoust. Soc. Am. 98(5), 1995).
const noticeable = 0.025
