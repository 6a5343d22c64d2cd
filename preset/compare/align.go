package compare

import (
	"cmp"
	"math"
	"slices"

	"echowright/preset"
)

// at is the take at a lower rate.
func (t Take) at(rate preset.Hertz) Take {
	if t.Rate == rate {
		return t
	}
	step := float64(t.Rate / rate)
	t.Channels, t.Rate = thinned(t.Channels, step), rate
	return t
}

// thinned is every step-th sample of each channel, free of what they could not hold.
func thinned(all [][]float64, step float64) [][]float64 {
	r := newReader(step)
	out := make([][]float64, len(all))
	for c, x := range all {
		out[c] = r.read(x, 0, step, int(float64(len(x)-1)/step)+1)
	}
	return out
}

// faithful is how near to A, as a power to its own, any block of B may be counted
// to come: reading between samples is not much better, and without a limit takes
// without noise would be laid together by their softest blocks.
const faithful = 1e-8

// align lays b on a, roughly at a low rate, then finely at their own. Takes that
// do not match are refused by what they hold below a quarter of the low rate's
// half, where any machine passes sound.
func align(a, b Take) (fit, fitting, error) {
	step := math.Max(1, math.Round(float64(a.Rate)/slowRate))
	slow := float64(a.Rate) / step
	ga, gb := a.guides(), b.guides()
	w := fitting{a: thinned(ga, step), b: thinned(gb, step), rate: slow, reader: newReader(1)}
	w.floor = float64(len(ga)) * (a.floor() + b.floor())
	w.floor = math.Max(w.floor, faithful*power(ga)/float64(len(ga[0])))
	rough := w.likeliest(coarse(w.a, w.b, slow))
	if err := rough.match(power(w.a)); err != nil {
		return fit{}, w, err
	}
	rough = w.fine(rough.lie, mostTurns)
	w.a, w.b, w.rate = ga, gb, float64(a.Rate)
	f := w.fine(lie{at: rough.at * step, step: rough.step}, mostTurns)
	if f.gain == 0 || math.IsNaN(f.at+f.step+f.gain) {
		return fit{}, w, &Refusal{Reason: NoMatch}
	}
	return f, w, nil
}

// mostTurns in which b is read anew, at the most.
const mostTurns = 6

// finalists are the lies that are fitted before one is chosen, in finalTurns.
const (
	finalists  = 3
	finalTurns = 4
)

// likeliest is the fit near that one of the lies for which there is most evidence.
// A first look at all of them says which ones are worth more.
func (w fitting) likeliest(lies []lie) fit {
	byEvidence := func(p, q fit) int { return cmp.Compare(q.evidence(w.floor), p.evidence(w.floor)) }
	var all []fit
	for _, l := range lies {
		f := w.fine(l, 1)
		if f.likeness(power(w.a)).share > convincing {
			return w.fine(l, finalTurns)
		}
		all = append(all, f)
	}
	slices.SortStableFunc(all, byEvidence)
	all = all[:min(finalists, len(all))]
	for i, f := range all {
		all[i] = w.fine(f.lie, finalTurns)
	}
	slices.SortStableFunc(all, byEvidence)
	return all[0]
}

// convincing is a share of A's sound found in B that needs no second look elsewhere.
const convincing = 0.995

func (f fit) alignment(rate preset.Hertz) Alignment {
	al := Alignment{
		Offset: preset.SamplesToMillis(f.at, rate), OffsetSD: preset.SamplesToMillis(f.atSD, rate),
		Gain: -preset.FromAmplitude(f.gain), GainSD: preset.Decibels(nepers * f.gainSD / math.Abs(f.gain)), Inverted: f.gain < 0,
	}
	if f.drifts {
		drift := (f.step - 1) * 1e6
		al.Drift, al.DriftSD = &drift, f.stepSD*1e6
	}
	return al
}

// nepers is how many dB a small change is that makes 1 of an amplitude's own size.
const nepers = 20 / math.Ln10

// laid are the compared channels of a, and those of b as they lie on them.
func laid(a, b Take, f fit, r reader) (wetA, wetB [][]float64) {
	others := b.wet()
	for c, x := range a.wet() {
		y := r.read(others[c], f.at+float64(f.from)*f.step, f.step, f.to-f.from)
		for i := range y {
			y[i] *= f.gain
		}
		wetA, wetB = append(wetA, x[f.from:f.to]), append(wetB, y)
	}
	return wetA, wetB
}
