package measure

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Mains hum: harmonics of 50 or 60 Hz, whose frequency may be off by a little.
const (
	humHarmonics = 20
	humBand      = 1100.0 // Hz
	humOff       = 0.25   // Hz that the mains may be off
	humShare     = 0.3    // of the quiet's power below humBand: less is no hum
	humHint      = 0.1    // the same where the frequency is known roughly
	humQuiet     = 0.15   // s of quiet that are needed to learn it
)

// hum is a sum of sines: base, 2·base, …
type hum struct {
	base         float64 // Hz
	cosine, sine []float64
}

// findHum looks for mains hum in what is quiet in x; ok is false if there is none.
func findHum(x []float64, rate float64, quiet []bool) (h hum, ok bool) {
	step := thinning(rate, 2.7*humBand)
	low := thin(x, rate, band{20, humBand}, step)
	slow := rate / float64(step)
	var at []int
	for i := range low {
		if quiet[min(i*step, len(quiet)-1)] {
			at = append(at, i)
		}
	}
	if float64(len(at)) < humQuiet*slow {
		return hum{}, false
	}
	total := 0.0
	for _, i := range at {
		total += low[i] * low[i]
	}
	best := total
	for _, mains := range []float64{50, 60} {
		base := bestBase(low, at, slow, mains, humOff, 25, 3)
		if _, left := fitHum(low, at, slow, base, humHarmonics); left > (1-humHint)*total {
			continue // not worth the search for the exact frequency
		}
		base = bestBase(low, at, slow, base, 0.02, 21, humHarmonics)
		if g, left := fitHum(low, at, slow, base, humHarmonics); left < best {
			h, best = g, left
		}
	}
	return h, best < (1-humShare)*total
}

// bestBase is the base frequency of the given harmonics, within ±off of middle,
// that leaves least.
func bestBase(x []float64, at []int, rate, middle, off float64, steps, harmonics int) float64 {
	best, least := middle, math.Inf(1)
	for i := range steps {
		base := middle + off*(2*float64(i)/float64(steps-1)-1)
		if _, left := fitHum(x, at, rate, base, harmonics); left < least {
			best, least = base, left
		}
	}
	return best
}

// fitHum fits harmonics of base to the samples at the given places by least
// squares, and says what sum of squares it leaves.
func fitHum(x []float64, at []int, rate, base float64, harmonics int) (hum, float64) {
	n := 2 * harmonics
	normal, right := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	sums, row := make([]float64, n*n), make([]float64, n)
	total := 0.0
	for _, i := range at {
		harmonicsAt(row, base, float64(i)/rate)
		total += x[i] * x[i]
		for a, v := range row {
			right.SetVec(a, right.AtVec(a)+v*x[i])
			for b, u := range row[:a+1] {
				sums[a*n+b] += v * u
			}
		}
	}
	for a := range n {
		for b := 0; b < a; b++ {
			normal.SetSym(a, b, sums[a*n+b])
		}
		normal.SetSym(a, a, sums[a*n+a]*(1+1e-6)+1e-300)
	}
	var factor mat.Cholesky
	var c mat.VecDense
	if !factor.Factorize(normal) || factor.SolveVecTo(&c, right) != nil {
		return hum{}, total
	}
	h := hum{base: base}
	for k := range harmonics {
		h.cosine = append(h.cosine, c.AtVec(2*k))
		h.sine = append(h.sine, c.AtVec(2*k+1))
	}
	return h, total - mat.Dot(&c, right)
}

// harmonicsAt fills row with cos and sin of every harmonic at t, by recurrence.
func harmonicsAt(row []float64, base, t float64) {
	s1, c1 := math.Sincos(2 * math.Pi * base * t)
	c, s := c1, s1
	for k := 0; k+1 < len(row); k += 2 {
		row[k], row[k+1] = c, s
		c, s = c*c1-s*s1, s*c1+c*s1
	}
}

// takenFrom is x without the hum.
func (h hum) takenFrom(x []float64, rate float64) []float64 {
	out := make([]float64, len(x))
	row := make([]float64, 2*len(h.cosine))
	for i, v := range x {
		harmonicsAt(row, h.base, float64(i)/rate)
		for k := range h.cosine {
			v -= h.cosine[k]*row[2*k] + h.sine[k]*row[2*k+1]
		}
		out[i] = v
	}
	return out
}

// level of the hum (RMS), as a power.
func (h hum) power() float64 {
	return 0.5 * (dot(h.cosine, h.cosine) + dot(h.sine, h.sine))
}
