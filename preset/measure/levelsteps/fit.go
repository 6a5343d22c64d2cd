package levelsteps

import (
	"math"

	"echowright/preset"
)

const (
	// What a level and a harmonic are known to, beside their noise: a machine is
	// no tanh, and its tone is not known better.
	levelOff    = 0.1   // dB
	harmonicOff = 0.005 // of the fundamental

	drivenDB   = 0.3   // compression, or
	drivenPart = 0.003 // harmonics of the fundamental, above three times their noise, that show a drive
	trusted    = 0.04  // dB within which a fit tells the gain for soft sounds
	nepers     = 8.686 // dB, 20/ln 10
	audible    = 0.1   // a step is used when its noise is below this part of it
)

// A target is a step as the model is to make it.
type target struct {
	in, out float64                   // amplitude, dB
	noise   float64                   // parts of the fundamental
	others  [highestOrder - 1]float64 // with the head's tone taken off; the second with its sign
}

func targets(steps []Step, o Options, f float64) []target {
	var all []target
	for _, s := range steps {
		t := target{in: s.In.Amplitude(), out: float64(s.Out), noise: float64(s.Noise) / 100}
		if t.noise > audible {
			continue
		}
		for n := 2; n <= highestOrder; n++ {
			lost := o.Tone.Magnitude(preset.Hertz(f*float64(n))) / o.Tone.Magnitude(preset.Hertz(f))
			t.others[n-2] = float64(s.Harmonics[n-2]) / 100 / lost
		}
		t.others[0] = math.Copysign(t.others[0], s.even)
		all = append(all, t)
	}
	return all
}

// fit finds the drive, if the machine was driven.
func (r *Result) fit(o Options, f float64) {
	all := targets(r.Steps, o, f)
	if len(all) < 3 || !r.driven() {
		return
	}
	loudest := all[len(all)-1].in
	best, far := preset.Drive{}, math.Inf(1)
	for db := -15.0; db <= 30; db += 3 {
		for bias := -1.5; bias <= 1.5; bias += 0.25 {
			d := preset.Drive{Gain: preset.Decibels(db) - preset.FromAmplitude(loudest), Bias: bias}
			if c := cost(d, all); c < far {
				best, far = d, c
			}
		}
	}
	for step := 1.0; step > 1e-4; step /= 2 {
		for moved := true; moved; {
			moved = false
			for _, d := range around(best, step) {
				if c := cost(d, all); c < far-1e-9 && possible(d) {
					best, far, moved = d, c, true
				}
			}
		}
	}
	r.Drive = &best
	r.Fit = quality(best, all)
	if soft := offsets(best, all).gain; r.Fit.Level < trusted { // it goes by all steps, the line by the softest alone
		r.Gain = preset.Decibels(soft)
		r.OneDB = r.compression()
	}
}

func around(d preset.Drive, step float64) []preset.Drive {
	var all []preset.Drive
	for _, gain := range []float64{-1, 0, 1} {
		for _, bias := range []float64{-1, 0, 1} {
			all = append(all, preset.Drive{Gain: d.Gain + preset.Decibels(2*step*gain), Bias: d.Bias + 0.2*step*bias})
		}
	}
	return all
}

// possible keeps to what a unit profile may hold.
func possible(d preset.Drive) bool { return math.Abs(float64(d.Gain)) <= 60 && math.Abs(d.Bias) <= 2 }

// driven says whether the loudest step shows anything of a drive.
func (r *Result) driven() bool {
	last := r.Steps[len(r.Steps)-1]
	return float64(r.Gain-last.Gain) > drivenDB || float64(last.THD) > 100*drivenPart && last.THD > 3*last.Noise
}

// off is what lies between the model and the steps: of the levels in dB, and of
// the harmonics in parts of the fundamental; with their standard deviations.
type off struct {
	gain                float64 // behind the drive, dB: the mean that levels were left with
	levels, levelSD     []float64
	harmonics, expected []float64
}

func offsets(d preset.Drive, all []target) off {
	var o off
	weights := 0.0
	for _, t := range all {
		first, others := answer(d, t.in)
		sd := math.Hypot(levelOff, nepers*t.noise)
		level := t.out - 20*math.Log10(first)
		o.levels, o.levelSD = append(o.levels, level), append(o.levelSD, sd)
		o.gain += level / (sd * sd)
		weights += 1 / (sd * sd)
		for n, v := range others {
			o.harmonics = append(o.harmonics, t.others[n]-v)
			o.expected = append(o.expected, math.Hypot(harmonicOff, t.noise))
		}
	}
	o.gain /= weights
	for i := range o.levels {
		o.levels[i] -= o.gain
	}
	return o
}

func cost(d preset.Drive, all []target) float64 {
	o, sum := offsets(d, all), 0.0
	for i, v := range o.levels {
		sum += v * v / (o.levelSD[i] * o.levelSD[i])
	}
	for i, v := range o.harmonics {
		sum += v * v / (o.expected[i] * o.expected[i])
	}
	return sum
}

func quality(d preset.Drive, all []target) *Fit {
	o := offsets(d, all)
	gainSD, biasSD := spread(d, all)
	return &Fit{
		Level: preset.Decibels(rms(o.levels)), Harmonics: preset.Percent(100 * rms(o.harmonics)),
		GainSD: preset.Decibels(gainSD), BiasSD: biasSD,
	}
}

// spread is how far gain and bias may be off: by the curvature of the cost at its
// bottom, whose inverse is half the covariance, widened where the fit is worse
// than was expected of it.
func spread(d preset.Drive, all []target) (gainSD, biasSD float64) {
	const a, b = 0.05, 0.01 // dB, and of bias
	at := func(i, j float64) float64 {
		return cost(preset.Drive{Gain: d.Gain + preset.Decibels(i*a), Bias: d.Bias + j*b}, all)
	}
	bottom := at(0, 0)
	aa := (at(1, 0) - 2*bottom + at(-1, 0)) / (a * a)
	bb := (at(0, 1) - 2*bottom + at(0, -1)) / (b * b)
	ab := (at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1)) / (4 * a * b)
	det := aa*bb - ab*ab
	if !(aa > 0 && bb > 0 && det > 0) {
		return 0, 0
	}
	wider := math.Max(1, bottom/float64(len(all)*highestOrder-3))
	return math.Sqrt(2 * wider * bb / det), math.Sqrt(2 * wider * aa / det)
}

func rms(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}
