package measure

import (
	"math"
	"slices"
)

// blockLevels is the mean square of every block of size samples (the last, short
// one left out).
func blockLevels(x []float64, size int) []float64 {
	levels := make([]float64, len(x)/size)
	for i := range levels {
		levels[i] = meanSquare(x[i*size : (i+1)*size])
	}
	return levels
}

func meanSquare(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum / math.Max(1, float64(len(x)))
}

// quantile is the value that the share q of all lies below.
func quantile(values []float64, q float64) float64 {
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	return sorted[int(q*float64(len(sorted)-1))]
}

// quietStretch is how long a stretch of quiet has to be to tell the noise, s.
const quietStretch = 0.05

// noiseFloor is the mean square of the noise: that of the quietest stretch of the
// take. Stretches of nothing but zeros are no noise but a gate or an edit. The
// least of many means lies below the true one, by about an eighth here.
func noiseFloor(x []float64, rate float64) float64 {
	const parts = 10
	levels := blockLevels(x, max(1, int(quietStretch*rate/parts)))
	if len(levels) < parts {
		return meanSquare(x)
	}
	sum := 0.0
	least := math.Inf(1)
	for i, l := range levels {
		sum += l
		if i >= parts {
			sum -= levels[i-parts]
		}
		if i >= parts-1 && slices.Min(levels[i-parts+1:i+1]) > 0 {
			least = math.Min(least, math.Max(sum, 0))
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return 1.12 * least / parts
}

// leastRise is by how much, as a power, the loudest moment of a take rises from
// its noise if there is any sound in it.
const leastRise = 60

// A note is loud soon after its onset: what is not, is a bump in the noise.
const (
	soonLoud   = 0.06 // s
	loudEnough = 0.02 // of the power of the loudest moment
)

// firstOnset is the index of the first sample of the first sound in x, -1 if
// there is none: where blocks of 2 ms rise for good above the noise.
func firstOnset(x []float64, rate, noise float64) int {
	size := max(1, int(0.002*rate))
	levels := blockLevels(x, size)
	if len(levels) == 0 {
		return -1
	}
	top := slices.Max(levels)
	if top < leastRise*noise {
		return -1
	}
	threshold := math.Max(16*noise, top*1e-4)
	soon := max(1, int(soonLoud*rate)/size)
	for i, l := range levels {
		if l > threshold && slices.Max(levels[i:min(len(levels), i+soon)]) > loudEnough*top {
			return refineOnset(x, i*size, size, math.Max(6*math.Sqrt(noise), 0.03*math.Sqrt(top)))
		}
	}
	return -1
}

// refineOnset finds the first sample beyond the threshold near block start.
func refineOnset(x []float64, start, size int, threshold float64) int {
	for i := max(0, start-size); i < min(len(x), start+2*size); i++ {
		if math.Abs(x[i]) > threshold {
			return i
		}
	}
	return start
}
