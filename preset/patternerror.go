package preset

import "math"

// LeastError is what PatternError says of two trains that are the same: a floor
// below which rounding of the arithmetic would be all there is to tell.
const LeastError Decibels = -120

// TimingJND is the just noticeable difference of a time: 6 ms up to 240 ms,
// 2.5 % above (Friberg & Sundberg, J. Acoust. Soc. Am. 98(5), 1995).
func TimingJND(at Millis) Millis { return max(6, 0.025*at) }

// PatternError is how far the echoes got lie from the echoes wanted:
//
//	10·log10( ∫(p−q)² / ∫p² )
//
// with every echo spread by a Gaussian of unit area whose σ is half of
// [TimingJND], amplitudes taken without their sign. Both trains sorted by time,
// as Train gives them. 0 dB is what silence would get; [LeastError] is a perfect
// match. With nothing wanted it is LeastError if nothing was got, else +120 dB.
func PatternError(want, got []Echo) Decibels {
	pp := overlap(want, want)
	qq := overlap(got, got)
	if pp == 0 {
		if qq == 0 {
			return LeastError
		}
		return -LeastError
	}
	rest := pp - 2*overlap(want, got) + qq
	if rest <= 0 {
		return LeastError
	}
	return max(LeastError, Decibels(10*math.Log10(rest/pp)))
}

// overlap is ∫ p·q: the product of two Gaussians of unit area integrates to a
// Gaussian of their distance with the sum of their variances.
func overlap(p, q []Echo) float64 {
	const reach = 9 // in σ: e^(−40) beyond
	amplitudes := make([]float64, len(q))
	for i, b := range q {
		amplitudes[i] = b.Level.Amplitude()
	}
	sum, from := 0.0, 0
	for _, a := range p {
		amplitude := a.Level.Amplitude()
		sa := float64(TimingJND(a.At)) / 2
		// The widest Gaussian that can reach back to a lies later than a and is
		// wider than a's own by 2.5 % of the distance at the most.
		near := reach * 2 * sa
		for from < len(q) && float64(a.At-q[from].At) > near {
			from++
		}
		for i := from; i < len(q); i++ {
			b := q[i]
			d := float64(b.At - a.At)
			if d > 2*near {
				break
			}
			sb := float64(TimingJND(b.At)) / 2
			v := sa*sa + sb*sb
			sum += amplitude * amplitudes[i] * math.Exp(-d*d/(2*v)) / math.Sqrt(2*math.Pi*v)
		}
	}
	return sum
}
