package measure

import "math"

// sound is what the work is done on: a note and its echoes, from lead samples
// before its onset until they have sunk into the noise.
type sound struct {
	rate float64
	take []float64
	lead int // samples before the first onset
	// onsets are the indices at which notes are struck; the first is lead.
	onsets []int
	noise  float64 // mean square
	// longest is how long a note in it may last, s.
	longest float64
}

const (
	leadTime = 0.004    // s before the onset that belong to a sound
	halfRate = 11_000.0 // Hz at the least, for most of the fitting
	lowRate  = 3900.0   // Hz at the least, for the first steps
	lowBand  = 1450.0
	dullRate = 2600.0 // the same for the search for wow
	dullBand = 600.0

	longestNote   = 0.6  // s
	longestAttack = 0.16 // s: of a note without its ringing
)

// seconds is the place of sample i after the onset.
func (s sound) seconds(i int) float64 { return float64(i-s.lead) / s.rate }

func (s sound) length() float64 { return s.seconds(len(s.take)) }

// excerpt is the note of take (at rate) that begins at onset and ends before end.
func excerpt(take []float64, rate float64, onset, end int, noise float64) sound {
	lead := min(onset, int(leadTime*rate))
	s := sound{rate: rate, take: take[onset-lead : end], lead: lead, onsets: []int{lead}, noise: noise, longest: longestNote}
	return s
}

// thinned is the sound at a lower rate of at least that many Hz, with what of
// its band the lower rate can hold, or less: up to high Hz. Noise is taken to be
// white.
func (s sound) thinned(atLeast, high float64) sound {
	step := thinning(s.rate, atLeast)
	rate := s.rate / float64(step)
	if step == 1 && high >= rate/2 {
		return s
	}
	b := band{0, math.Min(high, rate/2/1.35)}
	t := sound{rate: rate, take: thin(s.take, s.rate, b, step), lead: s.lead / step, longest: s.longest}
	// The edge from high to 1.3·high passes three eighths of the power.
	for _, at := range s.onsets {
		t.onsets = append(t.onsets, at/step)
	}
	t.noise = s.noise * math.Min(1, (b.high+0.3*b.high*0.375)/(s.rate/2))
	return t
}
