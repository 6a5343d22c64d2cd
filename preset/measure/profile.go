package measure

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"echowright/preset"
)

// No figure is known better than this: what the model leaves out (the shape of
// the tone, the clock of the recorder) is no smaller.
const (
	leastDelaySD = 0.01 // ms
	leastLevelSD = 0.05 // dB
	// The same of the delay beside a tone of more than one pole: which of its own
	// delay belongs to the tone, a fit can hardly tell.
	shapedDelaySD = 0.03
	// The same of what is known from the attacks alone: no note rings quite as its
	// linear predictor thinks.
	attackDelaySD = 0.03
	attackLevelSD = 0.3
)

// result puts a fit into the words of the trade.
func (f fitted) result(heads []int) Result {
	values := f.figures()
	sd := f.deviations(values)
	n := len(f.machine.delay)
	low, high := f.machine.tone.corners(f.sound.rate)
	delaySD, levelSD := leastDelaySD, leastLevelSD
	if f.free.second || f.free.bell {
		delaySD = shapedDelaySD
	}
	if f.white {
		delaySD, levelSD = attackDelaySD, attackLevelSD
	}
	moreDelay, moreLevel := f.doubtful()
	r := Result{
		Note:     preset.Millis(1000 * noteLengths[f.rung]),
		Noise:    preset.Decibels(10 * math.Log10(f.sound.noise)),
		Residual: preset.Decibels(10 * math.Log10(math.Max(f.residual, 1e-30))),
	}
	for k := range n {
		r.Unit.Heads = append(r.Unit.Heads, preset.Head{
			Head:      heads[k],
			Delay:     preset.Millis(values[k]),
			DelaySD:   preset.Millis(math.Hypot(math.Max(sd[k], delaySD), moreDelay)),
			Level:     preset.Decibels(values[n+k]),
			LevelSD:   preset.Decibels(math.Hypot(math.Max(sd[n+k], levelSD), moreLevel)),
			Inverted:  f.machine.gain[k] < 0,
			LowCutHz:  preset.Hertz(low),
			HighCutHz: preset.Hertz(high),
		})
	}
	r.Unit.Direct = &preset.Direct{EchoToDirect: preset.Decibels(values[2*n])}
	r.Unit.Motion, r.Unit.Drive = f.machine.motion(), f.machine.saturation()
	r.Warnings = f.doubts()
	if len(f.machine.feeds) > 0 {
		r.Unit.Feedback = &preset.Feedback{Gain: preset.Decibels(values[2*n+1]), GainSD: preset.Decibels(math.Hypot(math.Max(sd[2*n+1], levelSD), moreLevel))}
		for _, k := range f.machine.feeds {
			r.Unit.Feedback.Heads = append(r.Unit.Feedback.Heads, heads[k])
		}
	}
	return r
}

// What a fit leaves unexplained says that its model is not quite the machine: from
// toldApart on, dB beyond the noise, the tone may be of another shape, such as a
// head's gap, which has no delay of its own where the fitted high cut has: half of
// the cut's is in doubt then, and shapedLevelSD of the level. What is more, a rest as
// strong as the noise itself puts leftDelaySD and leftLevelSD in doubt.
const (
	toldApart     = 0.3
	shapedLevelSD = 0.07
	leftDelaySD   = 0.05 // ms
	leftLevelSD   = 0.25 // dB
)

// doubtful is the standard deviation that what is not explained adds to delays (ms)
// and levels (dB).
func (f fitted) doubtful() (delay, level float64) {
	beyond := math.Max(0, f.beyond())
	shape := math.Min(1, beyond/toldApart)
	rest := math.Pow(10, beyond/20) - 1 // as an amplitude, of the noise
	delay = math.Hypot(shape*1000*f.machine.tone.highCut/2, leftDelaySD*rest)
	return delay, math.Hypot(shape*shapedLevelSD, leftLevelSD*rest)
}

// widen makes the uncertainty of all levels at least so many dB.
func (r *Result) widen(sd preset.Decibels) {
	for i := range r.Unit.Heads {
		r.Unit.Heads[i].LevelSD = max(r.Unit.Heads[i].LevelSD, sd)
	}
	if r.Unit.Feedback != nil {
		r.Unit.Feedback.GainSD = max(r.Unit.Feedback.GainSD, sd)
	}
}

// motion is wow and flutter in the words of the trade, nil if there is none.
func (m machine) motion() *preset.Motion {
	if !m.moves() {
		return nil
	}
	out := &preset.Motion{}
	if w := m.wow[0]; !w.still() {
		out.WowPercent, out.WowHz = preset.Percent(100*w.peak()), preset.Hertz(w.rate)
	}
	if w := m.wow[1]; !w.still() {
		out.FlutterPercent, out.FlutterHz = preset.Percent(100*w.peak()), preset.Hertz(w.rate)
	}
	return out
}

// saturation is the drive in the words of the trade, nil if there is none.
func (m machine) saturation() *preset.Drive {
	if m.bend == 0 {
		return nil
	}
	return &preset.Drive{Gain: preset.Decibels(10 * math.Log10(m.bend)), Bias: m.bias}
}

// figures are the machine's delays in ms, levels in dB re the loudest head, the
// level of that head re the direct sound, and the gain of one turn if there is a
// loop; all levels at 1 kHz.
func (f fitted) figures() []float64 {
	m := f.machine
	var all []float64
	for _, d := range m.delay {
		all = append(all, 1000*d)
	}
	top := 0.0
	for _, a := range m.gain {
		top = math.Max(top, math.Abs(a))
	}
	for _, a := range m.gain {
		all = append(all, decibels(a/top))
	}
	tone := m.tone.magnitude(float64(preset.Reference), f.sound.rate)
	all = append(all, decibels(top*tone))
	if len(m.feeds) > 0 {
		all = append(all, decibels(m.loop*tone))
	}
	return all
}

func decibels(amp float64) float64 { return 20 * math.Log10(math.Max(math.Abs(amp), 1e-30)) }

// deviations are the standard deviations of the figures: the covariance
// σ²·(JᵀJ)⁻¹ of what was fitted, carried over by difference quotients.
func (f fitted) deviations(values []float64) []float64 {
	sd := make([]float64, len(values))
	if f.solution.normal == nil {
		return sd
	}
	cov := f.covariance()
	g := f
	g.machine = f.machine.clone()
	knobs := g.machine.knobs(f.free)
	slopes := make([][]float64, len(knobs))
	for i, k := range knobs {
		was := *k.value
		*k.value += k.step
		slopes[i] = g.figures()
		*k.value = was
		for j := range slopes[i] {
			slopes[i][j] = (slopes[i][j] - values[j]) / k.step
		}
	}
	for j := range sd {
		v := 0.0
		for a := range knobs {
			for b := range knobs {
				v += slopes[a][j] * slopes[b][j] * cov.At(a, b)
			}
		}
		sd[j] = math.Sqrt(math.Max(v, 0))
	}
	return sd
}

// covariance of the knobs. What the model leaves unexplained is no white noise:
// it lies in the band of the note, so that it weighs the more.
func (f fitted) covariance() *mat.SymDense {
	const noteBand = 2000.0 // Hz
	spread := 1 + math.Max(0, f.residual/f.sound.noise-1)*math.Max(1, f.sound.rate/2/noteBand)
	n := f.solution.normal.SymmetricDim()
	scaled := mat.NewSymDense(n, nil)
	scale := make([]float64, n)
	for i := range n {
		scale[i] = 1 / math.Sqrt(math.Max(f.solution.normal.At(i, i), 1e-300))
	}
	for i := range n {
		for j := i; j < n; j++ {
			scaled.SetSym(i, j, f.solution.normal.At(i, j)*scale[i]*scale[j])
		}
		scaled.SetSym(i, i, scaled.At(i, i)+1e-9)
	}
	cov := mat.NewSymDense(n, nil)
	var factor mat.Cholesky
	if !factor.Factorize(scaled) || factor.InverseTo(cov) != nil {
		return mat.NewSymDense(n, nil)
	}
	for i := range n {
		for j := i; j < n; j++ {
			cov.SetSym(i, j, cov.At(i, j)*scale[i]*scale[j]*spread)
		}
	}
	return cov
}
