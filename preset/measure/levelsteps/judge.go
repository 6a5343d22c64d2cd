package levelsteps

import (
	"fmt"
	"math"

	"echowright/preset"
	"echowright/preset/measure"
)

const (
	softPart = 0.25 // of the steps, from the softest, tell the gain for soft sounds
	softDB   = 0.3  // they agree within, or even the softest is bent

	dirtyInput = 1.0 // percent
	bentInput  = 0.5 // dB that the level in may stay behind the signal's own steps
)

// judge draws the figures of the whole from the steps.
func (r *Result) judge() {
	r.Gain = gainAtNought(r.soft())
	r.OneDB = r.compression()
	last := r.Steps[len(r.Steps)-1]
	const least = 1e-4 // percent: what is less is nothing, and has no ratio
	even := math.Hypot(float64(last.Harmonics[0]), float64(last.Harmonics[2]))
	odd := math.Hypot(float64(last.Harmonics[1]), float64(last.Harmonics[3]))
	r.EvenToOdd = preset.FromAmplitude(math.Max(even, least) / math.Max(odd, least))
	r.AboveToBelow = preset.FromAmplitude(last.Above / last.Below)
}

// gainAtNought is where a line of gain over the square of the level begins: what
// bends at all bends so at first. Noisy steps weigh less.
func gainAtNought(soft []Step) preset.Decibels {
	const known = 0.02 // dB, beside noise
	w, wx, wy, wxx, wxy := 0.0, 0.0, 0.0, 0.0, 0.0
	for _, s := range soft {
		sd := math.Hypot(known, nepers*float64(s.Noise)/100)
		weight, x, y := 1/(sd*sd), math.Pow(s.In.Amplitude(), 2), float64(s.Gain)
		w, wx, wy, wxx, wxy = w+weight, wx+weight*x, wy+weight*y, wxx+weight*x*x, wxy+weight*x*y
	}
	if spread := w*wxx - wx*wx; len(soft) > 2 && spread > 0 {
		return preset.Decibels((wy*wxx - wx*wxy) / spread)
	}
	return preset.Decibels(wy / w)
}

// soft are the softest steps that stand above the noise; one at least.
func (r *Result) soft() []Step {
	heard := r.Steps
	for len(heard) > 1 && float64(heard[0].Noise) > 100*drivenDB/nepers {
		heard = heard[1:]
	}
	return heard[:max(1, int(math.Round(softPart*float64(len(heard)))))]
}

// compression is where the curve first falls 1 dB. Between steps the fall in dB
// grows by a power of the level, so that its logarithm makes a straight line.
func (r *Result) compression() *preset.Decibels {
	const fall = preset.Decibels(1)
	for k := 1; k < len(r.Steps); k++ {
		a, b := r.Steps[k-1], r.Steps[k]
		before, after := r.Gain-a.Gain, r.Gain-b.Gain
		if before < fall && after >= fall {
			part := (fall - before) / (after - before)
			if before > 0.01 {
				part = preset.Decibels(math.Log(float64(fall/before)) / math.Log(float64(after/before)))
			}
			at := a.In + (b.In-a.In)*part
			return &at
		}
	}
	return nil
}

// noDirect says whether the direct sound lies behind the signal's own range, as
// an echo does that was taken for it.
func (r *Result) noDirect(nominal float64) bool {
	return r.From == DirectSound && nominal-float64(r.Steps[len(r.Steps)-1].In-r.Steps[0].In) > bentInput
}

// warnings tell what is doubtful; nominal is the range in dB from the softest to
// the loudest step of the signal, ins what was heard of the level in.
func (r *Result) warnings(take measure.Take, nominal float64, ins []harmonics) []measure.Warning {
	var all []measure.Warning
	warn := func(when bool, what, do string) {
		if when {
			all = append(all, measure.Warning{What: what, Do: do})
		}
	}
	soft := r.soft()
	doubt := 3 * nepers * float64(soft[0].Noise) / 100 // dB
	bent := math.Abs(float64(soft[len(soft)-1].Gain-soft[0].Gain)) > softDB+doubt
	warn(bent && len(soft) > 1, "even the softest steps are bent", "begin with softer ones, or turn the machine's input down")
	warn(r.Drive == nil && !r.driven(), "the steps show no drive", "raise the level, or turn the machine's input up, until it distorts")
	warn(r.noDirect(nominal), "what was taken for the direct sound is compressed as an echo is",
		"it may be an echo: give the dry sound as a channel of its own")
	warn(r.From == SignalFile, "the level in is that of the signal's file, not of the take",
		"levels and the drive's gain hold for that scale only; record the direct sound too")
	noisy := 0
	for _, s := range r.Steps {
		if float64(s.Noise) > 100*audible {
			noisy++
		}
	}
	warn(noisy > 0, fmt.Sprintf("%d steps drown in noise", noisy), "they were left out; begin with louder ones")
	if n := len(ins); n > 0 {
		h := ins[n-1]
		dirty := 100 * math.Hypot(math.Hypot(h.size[1], h.size[2]), math.Hypot(h.size[3], h.size[4])) / h.size[0]
		warn(dirty > dirtyInput, fmt.Sprintf("the loudest burst is distorted by %.1f %% before it reaches the machine", dirty),
			"lower the recorder's or the player's level")
	}
	places := clipped(take.Samples) + clipped(take.Dry)
	warn(places > 0, fmt.Sprintf("clipped in %d places", places), "record it again at a lower level: this is the recorder's distortion, not the machine's")
	return all
}

// clipped counts runs of three samples or more that stand still near full scale.
func clipped(x []float64) int {
	places, run := 0, 1
	for i := 1; i < len(x); i++ {
		if x[i] != x[i-1] || math.Abs(x[i]) < 0.9 {
			run = 1
			continue
		}
		if run++; run == 3 {
			places++
		}
	}
	return places
}
