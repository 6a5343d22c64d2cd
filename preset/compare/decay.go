package compare

import (
	"math"

	"echowright/preset"
)

// Decay is how fast the takes die away after their last loud sound, in dB lost in
// a second: of the echoes with their repeats, as they are heard together.
type Decay struct {
	A, B  float64 // dB/s, above 0
	Range preset.Decibels
	From  preset.Millis // where it begins, in the traces
}

const (
	decayBlock = 0.01  // s
	decayStart = -5.0  // dB below the whole that is still to come
	decayEnd   = -25.0 // as for a reverberation time of 20 dB (ISO 3382-1)
	decayLeast = 10.0  // dB; with less above the noise nothing is told
)

// decays is nil where one of the takes does not die away far enough above its
// noise.
func decays(a, b []float64, rate preset.Hertz) *Decay {
	size := max(1, int(decayBlock*float64(rate)))
	ea, eb := blockEnergies(a, size), blockEnergies(b, size)
	from := lastLoud(ea)
	slopeA, rangeA := fall(ea[from:])
	slopeB, rangeB := fall(eb[from:])
	if least := math.Min(rangeA, rangeB); least >= decayLeast {
		return &Decay{A: slopeA, B: slopeB, Range: preset.Decibels(least), From: preset.SamplesToMillis(float64(from*size), rate)}
	}
	return nil
}

func blockEnergies(x []float64, size int) []float64 {
	all := make([]float64, len(x)/size)
	for i := range all {
		all[i] = energy(x[i*size : (i+1)*size])
	}
	return all
}

// lastLoud is the last block within 6 dB of the loudest.
func lastLoud(e []float64) int {
	most, last := 0.0, 0
	for _, v := range e {
		most = math.Max(most, v)
	}
	for i, v := range e {
		if v >= most/4 {
			last = i
		}
	}
	return last
}

// fall is how steeply, in dB/s, what is still to come falls, and over how many dB
// that could be seen: a straight line from decayStart to decayEnd.
func fall(e []float64) (slope, seen float64) {
	levels := stillToCome(e)
	var n, sx, sy, sxx, sxy, low float64
	for i, level := range levels {
		if level < decayEnd {
			break
		}
		low = level
		if level > decayStart {
			continue
		}
		x := float64(i) * decayBlock
		n, sx, sy, sxx, sxy = n+1, sx+x, sy+level, sxx+x*x, sxy+x*level
	}
	if det := n*sxx - sx*sx; n > 2 && det > 0 {
		return -(n*sxy - sx*sy) / det, decayStart - low
	}
	return 0, 0
}

// stillToCome is the level of all that follows, to the whole, at each block as far
// as it stands above the noise (Schroeder's integration from the end, the noise
// taken off).
func stillToCome(e []float64) []float64 {
	noise := quietest(e)
	curve := make([]float64, len(e)+1)
	for i := len(e) - 1; i >= 0; i-- {
		curve[i] = curve[i+1] + e[i] - noise
	}
	var levels []float64
	for i, v := range curve[:len(e)] {
		if v <= 0 || v < noise*math.Sqrt(float64(len(e)-i)) {
			break
		}
		levels = append(levels, 10*math.Log10(v/curve[0]))
	}
	return levels
}

// quietest is the mean of that tenth of the time in which it is least.
func quietest(e []float64) float64 {
	least := math.Inf(1)
	part := max(1, len(e)/10)
	for at := 0; at+part <= len(e); at += part {
		least = math.Min(least, sum(e[at:at+part])/float64(part))
	}
	return least
}
