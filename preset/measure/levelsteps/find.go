package levelsteps

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/signals"
)

const (
	fewestPeriods = 6.0   // that a burst must leave to tell its harmonics
	wholePart     = 0.6   // of a burst is steady, at least, where it is not covered
	settles       = 0.02  // s after its start a burst has settled
	boxTime       = 0.01  // s over which the level is watched, about
	grid          = 0.001 // s between the times that are looked at
	faintest      = 0.05  // of the direct sound, for the echo
	overQuiet     = 3.0
	missing       = 0.03 // of the mean of all is a burst that is not there
	purest        = 0.3  // of the power of the loudest burst is the tone's, or more
	steadyDB      = 1.5  // a burst's level stays within, or something else covers it
)

// A span is where in each burst the sound stands that is to be measured, counted
// from where the signal has the burst's start.
type span struct{ from, to int }

func (s span) cut(x []float64, start int) []float64 {
	return x[clamp(start+s.from, len(x)):clamp(start+s.to, len(x))]
}

// found is where the direct sound and the echo stand.
type found struct {
	from         Source
	direct, echo span
	delay        preset.Millis

	directAt, echoAt int // from a burst's start; what is not there is at 0
}

func find(take measure.Take, wet *watch) (found, error) {
	s := wet.s
	if take.Dry != nil {
		dry := newWatch(take.Dry, s)
		at, err := dry.first(dry.whole())
		if err != nil {
			return found{}, fmt.Errorf("dry channel: %w", err)
		}
		direct, err := dry.steady(at)
		if err != nil {
			return found{}, fmt.Errorf("dry channel: %w", err)
		}
		echoAt, err := wet.first(at, at+wet.period())
		if err != nil {
			return found{}, err
		}
		echo, err := wet.steady(echoAt)
		return found{from: DryChannel, direct: direct, echo: echo, delay: wet.millis(echoAt - at), directAt: at, echoAt: echoAt}, err
	}
	at, err := wet.first(wet.whole())
	if err != nil {
		return found{}, err
	}
	direct, err := wet.steady(at)
	if err != nil {
		return found{}, err
	}
	after := at + int(s.Steps.Burst.Samples(s.Rate)) + wet.box
	echoAt, ok := wet.rise(after, at+wet.period(), faintest*wet.level(at+2*wet.box))
	if !ok {
		return found{from: SignalFile, echo: direct, echoAt: at}, nil
	}
	echo, err := wet.steady(echoAt)
	return found{from: DirectSound, direct: direct, echo: echo, delay: wet.millis(echoAt - at), directAt: at, echoAt: echoAt}, err
}

// A watch tells the level of the tone at each time, over all bursts at once.
type watch struct {
	s      signals.Signal
	x      []float64
	starts []int
	levels []float64    // amplitudes that the bursts were made with
	sums   []complex128 // of the sound turned down to 0 Hz, up to each sample
	powers []float64    // of its squares
	box    int          // samples: whole periods, in which the tone's image and its harmonics cancel
	burst  int
	n      int
	quiet  float64 // level where no burst is
}

func newWatch(x []float64, s signals.Signal) *watch {
	period := float64(s.Rate / s.Steps.Frequency)
	w := &watch{
		s: s, x: x, starts: s.Starts(), n: len(x), sums: make([]complex128, len(x)+1), powers: make([]float64, len(x)+1),
		box:   int(math.Round(period * math.Ceil(boxTime*float64(s.Steps.Frequency)))),
		burst: int(s.Steps.Burst.Samples(s.Rate)),
	}
	for _, level := range s.StepLevels() {
		w.levels = append(w.levels, level.Amplitude())
	}
	for i, v := range x {
		turns := float64(i) / period
		w.sums[i+1] = w.sums[i] + complex(v, 0)*cmplx.Rect(1, -2*math.Pi*(turns-math.Floor(turns)))
		w.powers[i+1] = w.powers[i] + v*v
	}
	return w
}

func (w *watch) millis(samples int) preset.Millis {
	return preset.SamplesToMillis(float64(samples), w.s.Rate)
}

// period is the time from burst to burst, in samples.
func (w *watch) period() int {
	return int((w.s.Steps.Burst + w.s.Steps.Gap).Samples(w.s.Rate))
}

// whole is every time at which all bursts lie within the take.
func (w *watch) whole() (from, to int) {
	return -w.starts[0], w.n - w.starts[len(w.starts)-1] - w.burst
}

// level is the gain of the tone from signal to take, from samples after each
// start on, over a box: the geometric mean over the bursts. It is 0 where one of
// them is missing, as the first or the last is when each burst is taken for its
// neighbour.
func (w *watch) level(from int) float64 { return w.mean(from, w.box) }

func (w *watch) mean(from, length int) float64 {
	mean, least := w.gains(0, from, length)
	if least < missing*mean {
		return 0
	}
	return mean
}

// gains is the geometric mean and the least of the gains of the bursts but the
// softest.
func (w *watch) gains(but, from, length int) (mean, least float64) {
	least = math.Inf(1)
	for k, start := range w.starts[but:] {
		a, b := clamp(start+from, w.n), clamp(start+from+length, w.n)
		gain := 2 * cmplx.Abs(w.sums[b]-w.sums[a]) / float64(length) / w.levels[but+k]
		mean += math.Log(math.Max(gain, 1e-300))
		least = math.Min(least, gain)
	}
	return math.Exp(mean / float64(len(w.starts)-but)), least
}

func clamp(i, n int) int { return max(0, min(i, n)) }

// first is when the tone is first heard, by the time from a burst's start.
func (w *watch) first(from, to int) (int, error) {
	step := max(1, int(grid*float64(w.s.Rate)))
	loudest, at := 0.0, from
	for t := from; t <= to; t += step {
		if m := w.mean(t, w.burst); m > loudest {
			loudest, at = m, t
		}
	}
	begin := max(from, at-w.period()/2)
	w.quiet = w.median(begin, at-w.box)
	if w.purity(at) > purest {
		if start, ok := w.rise(begin, at+w.box, faintest*loudest); ok {
			return start, nil
		}
	}
	return 0, &signals.Refusal{
		Problem: fmt.Sprintf("the take does not hold %d bursts of %v", w.s.Steps.Count, w.s.Steps.Frequency),
		Do:      "record the whole signal, turn the repeats to nought, and check the channel, its level, and that the signal's own file is given",
	}
}

// median of the levels of half a period before the loudest sound is the noise:
// the echoes of a burst before do not fill it.
func (w *watch) median(from, to int) float64 {
	levels := []float64{0}
	for t := from; t < to; t += w.box / 2 {
		mean, _ := w.gains(0, t, w.box)
		levels = append(levels, mean)
	}
	slices.Sort(levels)
	return levels[len(levels)/2]
}

// purity is the share of the tone in the power of the loudest burst.
func (w *watch) purity(at int) float64 {
	last := w.starts[len(w.starts)-1] + at
	a, b := clamp(last, w.n), clamp(last+w.burst, w.n)
	power := w.powers[b] - w.powers[a]
	if power == 0 {
		return 0
	}
	tone := 2 * cmplx.Abs(w.sums[b]-w.sums[a]) / float64(b-a)
	return tone * tone / 2 * float64(b-a) / power
}

// rise is the first time from which the tone has at least the given level, and
// stands above the noise, put to where it has half of what it then rises to.
func (w *watch) rise(from, to int, least float64) (int, bool) {
	least = math.Max(least, overQuiet*w.quiet)
	step := max(1, int(grid*float64(w.s.Rate)))
	for t := from; t <= to; t += step {
		if w.level(t) < least {
			continue
		}
		for half := w.level(t+2*w.box) / 2; t < to+2*w.box; t += step {
			if w.level(t) >= half {
				return t + w.box/2, true
			}
		}
	}
	return 0, false
}

// steady is the part of a burst, heard first at the given time, in which its
// level stands still: to its end, or to where something else joins it.
func (w *watch) steady(at int) (span, error) {
	rate := float64(w.s.Rate)
	fade := int(w.s.Steps.Fade.Samples(w.s.Rate))
	settled := max(int(settles*rate), fade+w.box/2)
	if settled > w.burst/5 { // short bursts have no time to settle
		settled = max(fade, w.burst/5)
	}
	s := span{from: at + settled, to: at + w.burst - fade - w.box/2}
	low, high := math.Inf(1), 0.0
	for t := at + fade; t+w.box <= s.to; t += max(1, w.box/4) {
		l, _ := w.gains(len(w.starts)/2, t, w.box) // noise makes the softer ones unsteady
		if math.Max(high, l) > math.Min(low, l)*math.Pow(10, steadyDB/20) {
			s.to = t - w.box/4
			break
		}
		low, high = math.Min(low, l), math.Max(high, l)
	}
	if float64(s.to-s.from)/rate*float64(w.s.Steps.Frequency) < fewestPeriods {
		return span{}, &signals.Refusal{
			Problem: fmt.Sprintf("the bursts of %v are not heard by themselves: another sound joins them after %.0f ms", w.s.Steps.Burst, float64(s.to-at)/rate*1000),
			Do:      "use a burst shorter than the first head's delay, leave one head on, or give the dry sound as a channel of its own",
		}
	}
	return s, nil
}
