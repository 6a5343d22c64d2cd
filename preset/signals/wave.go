package signals

import (
	"math"

	"echowright/preset"
)

// clickReach is how far a click spreads to each side of its peak, in periods of
// its cut.
const clickReach = 4

// Frames is the number of samples of the signal with its lead and tail.
func (s Signal) Frames() int {
	return s.samples(s.Lead) + s.samples(s.body()) + s.samples(s.Tail)
}

// Seconds is how long the signal lasts with its lead and tail.
func (s Signal) Seconds() float64 { return float64(s.Frames()) / float64(s.Rate) }

// Peak is the greatest sample that the signal may have.
func (s Signal) Peak() float64 { return s.Level.Amplitude() }

// body is the time between lead and tail.
func (s Signal) body() preset.Millis {
	switch {
	case s.Sweep != nil:
		return preset.Millis(1000 * s.Sweep.Seconds)
	case s.Clicks != nil:
		return preset.Millis(s.Clicks.Count) * s.Clicks.Spacing
	case s.Tone != nil:
		return preset.Millis(1000 * s.Tone.Seconds)
	case s.Steps != nil:
		return preset.Millis(s.Steps.Count) * (s.Steps.Burst + s.Steps.Gap)
	}
	return 0
}

func (s Signal) samples(t preset.Millis) int { return int(math.Round(t.Samples(s.Rate))) }

// Starts are the samples at which the parts of the signal begin: the sweep, the
// tone, each burst; of each click the peak.
func (s Signal) Starts() []int {
	count, every := 1, preset.Millis(0)
	switch {
	case s.Clicks != nil:
		count, every = s.Clicks.Count, s.Clicks.Spacing
	case s.Steps != nil:
		count, every = s.Steps.Count, s.Steps.Burst+s.Steps.Gap
	}
	starts := make([]int, count)
	for k := range starts {
		starts[k] = s.samples(s.Lead) + s.samples(preset.Millis(k)*every)
	}
	return starts
}

// StepLevels are the levels of the bursts in dBFS, from soft to hard.
func (s Signal) StepLevels() []preset.Decibels {
	if s.Steps == nil {
		return nil
	}
	levels := make([]preset.Decibels, s.Steps.Count)
	for k := range levels {
		levels[k] = s.Level - s.Steps.Step*preset.Decibels(len(levels)-1-k)
	}
	return levels
}

// Samples is the whole signal, in fractions of full scale.
func (s Signal) Samples() []float64 {
	x := make([]float64, s.Frames())
	s.Fill(x, 0)
	return x
}

// Fill writes the samples of the signal from number from on into block, zeros
// where the signal has none. A long signal is made in blocks of any size,
// with no memory but theirs. The signal must be valid.
func (s Signal) Fill(block []float64, from int) {
	clear(block)
	wave := s.wave()
	if wave.at == nil {
		return
	}
	for k, start := range s.Starts() {
		first := max(start-wave.before-from, 0)
		last := min(start+wave.after-from, len(block))
		for i := first; i < last; i++ {
			block[i] += wave.gain(k) * wave.at(from+i-start)
		}
	}
}

// A wave is what stands at each start of a signal, from before samples before
// it to after samples after it.
type wave struct {
	before, after int
	at            func(n int) float64 // n samples after the start; 1 at most
	gain          func(part int) float64
}

func (s Signal) wave() wave {
	rate := float64(s.Rate)
	peak := s.Peak()
	w := wave{gain: func(int) float64 { return peak }}
	switch {
	case s.Sweep != nil:
		w.after = s.samples(s.body())
		fade := s.fades(w.after, s.Sweep.FadeIn, s.Sweep.FadeOut)
		l := s.Sweep.TimeConstant()
		turns := float64(s.Sweep.From) * l
		w.at = func(n int) float64 { return fade(n) * sine(turns*math.Expm1(float64(n)/rate/l)) }
	case s.Clicks != nil:
		reach := clickReach / float64(s.Clicks.HighCut) * rate
		w.before, w.after = int(reach), int(reach)+1
		w.at = func(n int) float64 { return click(float64(n), float64(s.Clicks.HighCut)/rate, reach) }
	case s.Tone != nil:
		w.after = s.samples(s.body())
		w.at = s.burst(w.after, s.Tone.Frequency, s.Tone.Fade)
	case s.Steps != nil:
		w.after = s.samples(s.Steps.Burst)
		w.at = s.burst(w.after, s.Steps.Frequency, s.Steps.Fade)
		levels := s.StepLevels()
		w.gain = func(part int) float64 { return levels[part].Amplitude() }
	}
	return w
}

// burst is a sine of length samples, faded in and out.
func (s Signal) burst(length int, f preset.Hertz, fade preset.Millis) func(int) float64 {
	faded := s.fades(length, fade, fade)
	return func(n int) float64 { return faded(n) * sine(float64(f)*float64(n)/float64(s.Rate)) }
}

// sine of a phase in turns: whole turns are taken off first, so that the last
// minute of a long tone is as exact as its first.
func sine(turns float64) float64 { return math.Sin(2 * math.Pi * (turns - math.Floor(turns))) }

// click is a sinc of the cut (in periods a sample), brought to zero at reach by
// a Hann window; 1 at its peak.
func click(n, cut, reach float64) float64 {
	if math.Abs(n) >= reach {
		return 0
	}
	window := math.Cos(math.Pi * n / (2 * reach))
	x := 2 * math.Pi * cut * n
	if x == 0 {
		return 1
	}
	return window * window * math.Sin(x) / x
}

// fades goes from 0 to 1 and back along halves of a cosine.
func (s Signal) fades(length int, in, out preset.Millis) func(int) float64 {
	rising, falling := in.Samples(s.Rate), out.Samples(s.Rate)
	return func(n int) float64 {
		g := 1.0
		if x := float64(n); x < rising {
			g = 0.5 - 0.5*math.Cos(math.Pi*x/rising)
		}
		if x := float64(length - n); x < falling {
			g *= 0.5 - 0.5*math.Cos(math.Pi*x/falling)
		}
		return g
	}
}
