package steadytone

import "math"

const (
	// guard is the time in s to each side of a dropout (or of the tone's
	// beginning and end) that is left out: the filters smear what happens there.
	guard = 0.05
	// A tone softer than this part of its mean is a dropout.
	dropout = 0.5
	// memory is the time in s over which the means of level and speed forget.
	memory = 2.0
)

// speeds gathers the figures from the samples of speed.
type speeds struct {
	rate      float64
	weighting weighting
	weighted  *distribution
	plain     *unweighted

	ring    []sample // the last of them: a dropout may follow
	n       int      // samples so far
	lastBad int
	calm    int // good samples since one was left out

	level, held    float64 // slow means of amplitude and deviation
	good           float64 // samples that counted
	sum            float64 // of their deviations
	amp, ampSquare float64
	dropouts       int
}

func newSpeeds(rate, amplitude float64) *speeds {
	return &speeds{
		rate: rate, weighting: newWeighting(rate), weighted: newDistribution(), plain: newUnweighted(rate),
		ring: make([]sample, int(guard*rate)), level: amplitude,
	}
}

func (s *speeds) add(x sample) {
	hold := len(s.ring)
	if x.amplitude < dropout*s.level {
		s.lastBad = s.n
	}
	old := s.ring[s.n%hold]
	s.ring[s.n%hold] = x
	s.n++
	if s.n <= hold {
		return
	}
	if s.n-1-s.lastBad <= 2*hold {
		s.leaveOut()
		return
	}
	s.count(old)
}

// leaveOut lets the filters see a speed that stands still.
func (s *speeds) leaveOut() {
	s.calm = 0
	s.weighting.add(s.held)
	s.plain.add(s.held, false)
}

func (s *speeds) count(x sample) {
	switch {
	case s.good == 0:
		s.held = x.deviation
	case s.calm == 0:
		s.dropouts++ // counted when the tone is back: at the end of the take it is the end of the tone
	}
	slow := 1 / (memory * s.rate)
	s.held += slow * (x.deviation - s.held)
	s.level += slow * (x.amplitude - s.level)
	s.calm++
	s.good++
	s.sum += x.deviation
	s.amp += x.amplitude
	s.ampSquare += x.amplitude * x.amplitude
	w := s.weighting.add(x.deviation)
	if float64(s.calm) > settling*s.rate {
		s.weighted.add(w)
	}
	s.plain.add(x.deviation, s.calm > len(s.plain.thin.taps))
}

func (s *speeds) seconds() float64 { return s.good / s.rate }

// mean deviation from the frequency of the oscillator.
func (s *speeds) mean() float64 { return s.sum / s.good }

func (s *speeds) amplitude() float64 { return s.amp / s.good }

// waver is the RMS of the amplitude's deviation, in parts of it.
func (s *speeds) waver() float64 {
	mean := s.amplitude()
	return math.Sqrt(math.Max(0, s.ampSquare/s.good-mean*mean)) / mean
}

// A distribution tells how often which size occurred, in classes of a 1024th of
// an octave from 1e-9 to 1: memory does not grow with the time.
type distribution struct {
	classes       []float64
	count, square float64
	greatest      float64
}

const (
	smallest   = 1e-9
	perOctave  = 1024
	octaves    = 30
	twoSigmaOf = 0.95 // of the time lies below the 2-sigma figure
)

func newDistribution() *distribution {
	return &distribution{classes: make([]float64, perOctave*octaves+1)}
}

func (d *distribution) add(v float64) {
	v = math.Abs(v)
	class := int(perOctave * math.Log2(math.Max(v, smallest)/smallest))
	d.classes[min(class, len(d.classes)-1)]++
	d.count++
	d.square += v * v
	d.greatest = math.Max(d.greatest, v)
}

func (d *distribution) rms() float64 { return math.Sqrt(d.square / math.Max(d.count, 1)) }

// below is the size that the given part of all lies below.
func (d *distribution) below(part float64) float64 {
	left := part * d.count
	for class, n := range d.classes {
		if n >= left && n > 0 {
			return smallest * math.Exp2((float64(class)+left/n)/perOctave)
		}
		left -= n
	}
	return 0
}
