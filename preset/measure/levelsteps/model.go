package levelsteps

import (
	"math"

	"echowright/preset"
)

// bend is the model of [preset.Drive].
func bend(d preset.Drive, x float64) float64 {
	k, rest := d.Gain.Amplitude(), math.Tanh(d.Bias)
	return (math.Tanh(k*x+d.Bias) - rest) / (k * (1 - rest*rest))
}

// answer is what a drive makes of a sine of amplitude a: the size of the
// fundamental, and the harmonics from 2 on as parts of it. Odd ones have the
// phase of sin nθ, even ones that of cos nθ; the second keeps its sign.
func answer(d preset.Drive, a float64) (first float64, others [highestOrder - 1]float64) {
	const points = 128 // even a wave that is bent to a square has little beyond order 60
	var sums [highestOrder]float64
	for i := range points {
		theta := 2 * math.Pi * (float64(i) + 0.5) / points
		y := bend(d, a*math.Sin(theta)) * 2 / points
		for n := 1; n <= highestOrder; n++ {
			if n%2 == 1 {
				sums[n-1] += y * math.Sin(float64(n)*theta)
			} else {
				sums[n-1] += y * math.Cos(float64(n)*theta)
			}
		}
	}
	for n := 2; n <= highestOrder; n++ {
		others[n-2] = sums[n-1] / sums[0]
		if n > 2 {
			others[n-2] = math.Abs(others[n-2])
		}
	}
	return sums[0], others
}
