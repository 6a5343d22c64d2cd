package response

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset"
	"echowright/preset/fastlength"
	"echowright/preset/signals"
)

const (
	lookLow    = 300.0 // Hz: the band in which delays are stated
	lookHigh   = 3000.0
	faintest   = 0.01  // of the greatest arrival
	overNoise  = 6.0   // times the noise
	apart      = 0.025 // s: what is nearer is one arrival
	blur       = 0.005 // s; three times it is the width of an arrival's energy
	ghostMatch = 0.005 // s
	ghostPart  = 0.3   // a ghost is no louder than this part of what makes it
)

// arrivals finds the direct sound and the echoes after it, by time, and the
// noise: the RMS of a sample of the trace where nothing arrives.
func (t Trace) arrivals() (direct place, echoes []Arrival, noise float64, err error) {
	rate := float64(t.Rate)
	wet := t.blurred(t.Wet)
	dry := wet
	if t.Dry != nil {
		dry = t.blurred(t.Dry)
	}
	noise = quiet(t.Wet)
	first := t.direct(dry)
	if first < 0 {
		return place{}, nil, 0, &signals.Refusal{
			Problem: "the take does not hold the signal", Do: "check which channel was recorded, its level, and that the signal's own file is given",
		}
	}
	size := dry[first]
	least := math.Max(overNoise*quiet(wet), faintest*slices.Max(wet[first:]))
	middle := t.middle(dry, first)
	found := peaks(wet, least, rate)
	for _, at := range found {
		if at > first+int(apart*rate/2) || t.Dry != nil && at >= first {
			m := t.middle(wet, at)
			echoes = append(echoes, Arrival{
				After: preset.SamplesToMillis(float64(m-middle), t.Rate), Level: preset.FromAmplitude(wet[at] / size), at: m, ghost: t.ghost(at, found, wet),
			})
		}
	}
	return place{at: middle, before: 0, next: len(t.Wet)}, echoes, noise, nil
}

// direct is the first arrival that is no ghost of a later, louder one; −1 if
// there is none.
func (t Trace) direct(env []float64) int {
	rate := float64(t.Rate)
	top := slices.Max(env)
	if top <= overNoise*quiet(env) { // silence too
		return -1
	}
	found := peaks(env, math.Max(overNoise*quiet(env), faintest*top), rate)
	if t.Dry != nil { // there is nothing else in it
		return slices.Index(env, top)
	}
	for _, at := range found {
		if !t.ghost(at, found, env) {
			return at
		}
	}
	return -1
}

func (t Trace) ghost(at int, found []int, env []float64) bool {
	rate := float64(t.Rate)
	for _, ahead := range t.Ghosts {
		for _, of := range found {
			if math.Abs(float64(of-at)-ahead.Samples(t.Rate)) < ghostMatch*rate && env[at] < ghostPart*env[of] {
				return true
			}
		}
	}
	return false
}

// envelope is the magnitude of the analytic signal between 300 Hz and 3 kHz,
// with edges half an octave wide.
func envelope(x []float64, rate float64) []float64 {
	n := fastlength.From(len(x) + int(apart*rate))
	padded := make([]complex128, n)
	for i, v := range x {
		padded[i] = complex(v, 0)
	}
	fft := fourier.NewCmplxFFT(n)
	s := fft.Coefficients(padded, padded)
	for i := range s {
		f := float64(i) * rate / float64(n)
		g := 0.0
		if i <= n/2 {
			g = 2 * rise(math.Log2(math.Max(f, 1)/lookLow)+0.5) * rise(math.Log2(lookHigh/math.Max(f, 1))+0.5) / float64(n)
		}
		s[i] *= complex(g, 0)
	}
	s = fft.Sequence(s, s)
	env := make([]float64, len(x))
	for i := range env {
		env[i] = math.Hypot(real(s[i]), imag(s[i]))
	}
	return env
}

// blurred is the root of the mean of the envelope's squares over some ms: a
// wavering speed spreads an arrival of a sweep, which then has many tops.
func (t Trace) blurred(x []float64) []float64 {
	rate := float64(t.Rate)
	env := envelope(x, rate)
	for i, v := range env {
		env[i] = v * v
	}
	width := max(1, int(blur*rate))
	for range 3 {
		env = movingMean(env, width)
	}
	for i, v := range env {
		env[i] = math.Sqrt(math.Max(0, v))
	}
	return env
}

// movingMean is the mean over width samples around each.
func movingMean(x []float64, width int) []float64 {
	y := make([]float64, len(x))
	sum := 0.0
	for i := -width; i < len(x); i++ {
		if j := i + width/2; j >= 0 && j < len(x) {
			sum += x[j]
		}
		if j := i + width/2 - width; j >= 0 && j < len(x) {
			sum -= x[j]
		}
		if i >= 0 {
			y[i] = sum / float64(width)
		}
	}
	return y
}

// middle is the centre of the energy of the arrival that a blurred envelope has
// at the given place.
func (t Trace) middle(env []float64, at int) int {
	reach := int(apart / 2 * float64(t.Rate))
	weights, sum := 0.0, 0.0
	for i := max(0, at-reach); i < min(len(env), at+reach+1); i++ {
		w := env[i] * env[i]
		weights += w
		sum += w * float64(i-at)
	}
	return at + int(math.Round(sum/weights))
}

// rise goes from 0 to 1 along half a cosine while x, in octaves, goes from 0 to 1/2.
func rise(x float64) float64 {
	x = math.Max(0, math.Min(1, 2*x))
	return 0.5 - 0.5*math.Cos(math.Pi*x)
}

// peaks are the arrivals in an envelope, by time: the greatest is chosen first,
// then what is not too near to one.
func peaks(env []float64, least, rate float64) []int {
	var all []int
	for i := 1; i+1 < len(env); i++ {
		if env[i] >= least && env[i] >= env[i-1] && env[i] > env[i+1] {
			all = append(all, i)
		}
	}
	slices.SortStableFunc(all, func(a, b int) int {
		switch {
		case env[a] > env[b]:
			return -1
		case env[a] < env[b]:
			return 1
		}
		return a - b
	})
	const most = 1000
	var kept []int
	for _, at := range all {
		if len(kept) < most && !slices.ContainsFunc(kept, func(k int) bool {
			return math.Abs(float64(at-k)) < apart*rate
		}) {
			kept = append(kept, at)
		}
	}
	slices.Sort(kept)
	return kept
}

// quiet is the RMS that the quietest quarter of a trace's blocks stay below.
func quiet(x []float64) float64 {
	const blocks = 200
	size := max(1, len(x)/blocks)
	var all []float64
	for i := 0; i+size <= len(x); i += size {
		sum := 0.0
		for _, v := range x[i : i+size] {
			sum += v * v
		}
		all = append(all, math.Sqrt(sum/float64(size)))
	}
	slices.Sort(all)
	return all[len(all)/4]
}
