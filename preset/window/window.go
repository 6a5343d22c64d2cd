// Package window turns a place between samples into weights: the sinc that reads
// there, and the Kaiser window that makes it short.
package window

import "math"

// Sinc is sin(πx)/(πx), and 1 at 0.
func Sinc(x float64) float64 {
	if math.Abs(x) < 1e-12 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// Kaiser is Kaiser's window of that β at x, from −1 to 1; 0 beyond.
func Kaiser(x, beta float64) float64 {
	if x <= -1 || x >= 1 {
		return 0
	}
	return bessel0(beta*math.Sqrt(1-x*x)) / bessel0(beta)
}

// bessel0 is the modified Bessel function I0 by its power series.
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1; term > 1e-17*sum; k++ {
		term *= x / 2 / float64(k) * x / 2 / float64(k)
		sum += term
	}
	return sum
}
