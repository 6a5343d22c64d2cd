package measure

// predictor is the linear predictor of the given order by the autocorrelation
// method (Levinson and Durbin's recursion): the error filter 1, a1, a2, …
// Correlation must hold order+1 lags.
func predictor(correlation []float64, order int) []float64 {
	a := make([]float64, order+1)
	a[0] = 1
	rest := correlation[0]
	before := make([]float64, order+1)
	for m := 1; m <= order && rest > 0; m++ {
		sum := correlation[m]
		for i := 1; i < m; i++ {
			sum += a[i] * correlation[m-i]
		}
		k := -sum / rest
		copy(before, a[:m])
		for i := 1; i < m; i++ {
			a[i] += k * before[m-i]
		}
		a[m] = k
		rest *= 1 - k*k
	}
	return a
}

// correlate is the autocorrelation of x at lags 0 to most.
func correlate(x []float64, most int) []float64 {
	c := make([]float64, most+1)
	for lag := range c {
		for i := lag; i < len(x); i++ {
			c[lag] += x[i] * x[i-lag]
		}
	}
	return c
}

// ringing is the filter that takes the ringing out of a note: its linear
// predictor of about 14 ms, learnt from part, so that only the attack stays.
func ringing(part []float64, rate float64) []float64 {
	order := min(int(0.014*rate), len(part)/2)
	c := correlate(part, order)
	c[0] = c[0]*(1+1e-5) + 1e-30
	return predictor(c, order)
}

// filter is x through the finite filter a.
func filter(a, x []float64) []float64 {
	n := fastLength(len(x) + len(a))
	s, t := spectrum(x, n), spectrum(a, n)
	for i := range s {
		s[i] *= t[i]
	}
	return waveform(s, n)[:len(x)]
}
