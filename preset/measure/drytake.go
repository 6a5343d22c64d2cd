package measure

import (
	"math"

	"echowright/preset"
	"echowright/preset/window"
)

const (
	dryLongest = 60       // s that are measured of a take, those that sound most
	dryRates   = 44_000.0 // Hz at the least that are kept of a take of a higher rate
	// The low pass before samples are left out: a sinc of so many lengths of the new
	// step to each side, under a Kaiser window.
	lowPassReach = 12
	lowPassEnd   = 0.92 // of half the new rate
)

// shortened is the part of a take that is measured, from s on, at a rate that is
// enough for it. What is left out above does the same to both channels, so that
// nothing is changed between them.
func (t Take) shortened() (short Take, from float64) {
	rate := float64(t.Rate)
	size := int(dryLongest * rate)
	at := 0
	if len(t.Samples) > size {
		at = loudestRun(t.Samples, size, int(rate/2))
	}
	end := min(len(t.Samples), at+size)
	step := max(1, int(rate/dryRates))
	short = Take{Rate: preset.Hertz(rate / float64(step)), Samples: t.Samples[at:end], Dry: t.Dry[at:end]}
	if step > 1 {
		weights := lowPass(step)
		short.Samples, short.Dry = everyNth(short.Samples, weights, step), everyNth(short.Dry, weights, step)
	}
	return short, float64(at) / rate
}

// loudestRun is where the run of so many samples begins that has most energy, in
// steps.
func loudestRun(x []float64, size, step int) int {
	levels := blockLevels(x, step)
	many := size / step
	sum, best, from := 0.0, -1.0, 0
	for i, l := range levels {
		sum += l
		if i >= many {
			sum -= levels[i-many]
		}
		if i >= many-1 && sum > 1.0001*best {
			best, from = sum, (i-many+1)*step
		}
	}
	return from
}

// lowPass are the weights around a sample that is kept of every step, the middle one
// of them its own.
func lowPass(step int) []float64 {
	reach := lowPassReach * step
	weights := make([]float64, 2*reach+1)
	sum := 0.0
	for i := range weights {
		at := float64(i - reach)
		weights[i] = window.Sinc(lowPassEnd*at/float64(step)) * window.Kaiser(at/float64(reach+1), beta)
		sum += weights[i]
	}
	for i := range weights {
		weights[i] /= sum
	}
	return weights
}

// everyNth is every step-th sample of x, of what the weights leave.
func everyNth(x, weights []float64, step int) []float64 {
	reach := len(weights) / 2
	out := make([]float64, (len(x)+step-1)/step)
	for i := range out {
		from := i*step - reach
		low, high := max(0, -from), min(len(weights), len(x)-from)
		out[i] = dot(weights[low:high], x[from+low:from+high])
	}
	return out
}

// clippedAt are the samples of a shortened take at which a channel of the whole one
// is clipped.
func (t Take) clippedAt(short Take, from float64) []spot {
	first := int(math.Round(from * float64(t.Rate)))
	last := min(len(t.Samples), first+int(dryLongest*float64(t.Rate)))
	step := int(math.Round(float64(t.Rate / short.Rate)))
	var all []spot
	for _, s := range []spot{{"dry", clipping(t.Dry[first:last])}, {"wet", clipping(t.Samples[first:last])}} {
		for i := range s.at {
			s.at[i] /= step
		}
		all = append(all, s)
	}
	return all
}
