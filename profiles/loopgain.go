package profiles

import (
	"math"

	"echowright/preset"
)

// LoopGain is the greatest gain of one turn through whatever feeds back, worked
// out from the codes alone; −Inf where nothing does. At 0 dB or above the setting
// may howl.
//
// All ways back to a line's beginning count with their amplitudes added up without
// their signs, and the cuts count as open: a one-pole cut lets the lowest (or the
// highest) tones through whole, and a knob can open it. A drive stands before the
// lines, not in a loop. Times do not matter, so that it holds for every tempo of a
// clock too.
//
// Why no sign and no time: let line i get from line k the sound a_ik(ω), the sum of
// its ways each turned by its own phase. The echoes die away as long as the matrix
// of all a_ik has no eigenvalue of 1 at any frequency, nor with the ways made any
// weaker. Its eigenvalues are at most the greatest of the matrix of |a_ik| (the
// theorem of Perron, Frobenius and Wielandt), and a_ik is at most the sum of its
// ways' amplitudes: that greatest eigenvalue below 1 is enough, whatever the
// phases. It is also needed, if nothing is said about the times: where all ways
// come round in phase, at the lowest tones with every sign positive, they do add up
// to it. For one line without taps it is just its feedback.
//
// What comes to unity but for the rounding of the arithmetic is 0 dB exactly.
func (d *Device) LoopGain(s Setting) preset.Decibels {
	const rounding = 1e-12
	gain := spectralRadius(d.ways(s))
	if math.Abs(gain-1) < rounding {
		return 0
	}
	return preset.FromAmplitude(gain)
}

// ways is, for each line, what it gets from each, itself among them: amplitudes
// without sign, the cuts open. Sources in a circle are taken as they stand.
func (d *Device) ways(s Setting) [][]float64 {
	all := make([][]float64, len(d.Lines))
	for i, l := range d.Lines {
		all[i] = make([]float64, len(d.Lines))
		if source, err := d.sourceNode(l, s); err == nil && source > 0 {
			all[i][source-1] = d.given(d.Lines[source-1], s)
		}
		all[i][i] += d.turn(l, s)
	}
	return all
}

// turn is what comes back of a line to its own beginning.
func (d *Device) turn(l Line, s Setting) float64 {
	sum := 0.0
	for k, t := range l.Taps {
		switch {
		case d.isOff(t, s) || l.Loop.From == LoopTap && k != d.FeedbackTap(l, s):
		case l.Loop.After:
			sum += math.Abs(d.tapGain(t, s))
		default:
			sum++
		}
	}
	return sum * math.Abs(d.Feedback(l, s))
}

// given is what a line hands on to another that has it for its source: y of a line
// that is its own single tap, else the sum of its taps as they are heard.
func (d *Device) given(l Line, s Setting) float64 {
	sum := 0.0
	for _, t := range l.Taps {
		switch {
		case d.isOff(t, s):
		case l.named:
			sum += math.Abs(d.Heard(l, t, s))
		default:
			sum++
		}
	}
	return sum
}

// isOff reports whether a tap is switched off. One whose time follows the clock is on.
func (d *Device) isOff(t Tap, s Setting) bool {
	_, on, err := d.Delay(t, s)
	return !on && err == nil
}

// spectralRadius is the greatest amount of an eigenvalue of a square matrix without
// negative entries, by Gelfand's formula: the limit of ‖Aⁿ‖ to the power of 1/n.
// Squaring doubles n each time; what a norm can be off by, at most the power of n
// that is the number of rows, is beyond notice after fifty. Nothing is ever taken
// off anything, so no digits are lost on the way.
func spectralRadius(a [][]float64) float64 {
	const squarings = 50
	logarithm, share := 0.0, 1.0
	for range squarings {
		size := norm(a)
		if size == 0 {
			return 0
		}
		logarithm += share * math.Log(size)
		a = squared(a, 1/size)
		share /= 2
	}
	return math.Exp(logarithm)
}

// norm is the greatest sum of a row.
func norm(a [][]float64) float64 {
	most := 0.0
	for _, row := range a {
		sum := 0.0
		for _, v := range row {
			sum += v
		}
		most = max(most, sum)
	}
	return most
}

// squared is (a·scale)².
func squared(a [][]float64, scale float64) [][]float64 {
	out := make([][]float64, len(a))
	for i := range a {
		out[i] = make([]float64, len(a))
		for k := range a {
			for j := range a {
				out[i][k] += a[i][j] * scale * a[j][k] * scale
			}
		}
	}
	return out
}
