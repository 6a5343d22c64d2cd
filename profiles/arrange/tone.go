package arrange

import (
	"cmp"
	"math"
	"slices"

	"echowright/preset"
	"echowright/profiles"
)

// A timbre is a tone in dB relative to 1 kHz at the octaves of bands: levels are
// stated at 1 kHz, so what is left of a tone is its shape, and tones passed one
// after the other add up.
type timbre [8]float64

var bands = [8]preset.Hertz{62.5, 125, 250, 500, 1000, 2000, 4000, 8000}

func timbreOf(t preset.Tone) timbre {
	var x timbre
	at := t.Magnitude(preset.Reference)
	for i, f := range bands {
		x[i] = float64(preset.FromAmplitude(t.Magnitude(f) / at))
	}
	return x
}

func (x timbre) plus(y timbre) timbre {
	for i := range x {
		x[i] += y[i]
	}
	return x
}

func (x timbre) minus(y timbre) timbre {
	for i := range x {
		x[i] -= y[i]
	}
	return x
}

// off is the root mean square of the timbre in dB: how far from no tone at all.
func (x timbre) off() float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}

// A cut is one pair of codes for a line's cuts and what they do.
type cut struct {
	high, low int // codes; None where the line has no such cut
	timbre    timbre
	left      float64 // of the amplitude at 1 kHz
}

// cuts is every pair that a line has, the pair that is out of the way first.
func cuts(d *profiles.Device, l profiles.Line) []cut {
	var all []cut
	for _, high := range cutCodes(d, l.Parameter(profiles.RoleHighCut)) {
		for _, low := range cutCodes(d, l.Parameter(profiles.RoleLowCut)) {
			tone := preset.Tone{HighCut: high.corner, LowCut: low.corner}
			all = append(all, cut{high.code, low.code, timbreOf(tone), tone.Magnitude(preset.Reference)})
		}
	}
	return all
}

type cutCode struct {
	code   int
	corner preset.Hertz // 0: the cut is off
}

func cutCodes(d *profiles.Device, parameter int) []cutCode {
	if parameter == profiles.None {
		return []cutCode{{code: profiles.None}}
	}
	scale := d.Parameters[parameter].Scale
	var codes []cutCode
	if code, ok := scale.Off(); ok {
		codes = append(codes, cutCode{code: code})
	}
	for c, last := scale.Numbers(); c <= last; c++ {
		codes = append(codes, cutCode{c, preset.Hertz(scale.Value(c).Number)})
	}
	return codes
}

// nearestCut is the pair whose timbre comes nearest.
func (k *deck) nearestCut(wanted timbre) cut {
	if c, ok := k.nearCuts[wanted]; ok {
		return c
	}
	best, least := k.cuts[0], math.Inf(1)
	for _, c := range k.cuts {
		if off := c.timbre.minus(wanted).off(); off < least-1e-9 {
			best, least = c, off
		}
	}
	k.nearCuts[wanted] = best
	return best
}

// A loop is a feedback code with the cuts beside it.
type loop struct {
	cut  cut
	code int
	gain float64 // of one turn at 1 kHz, an amplitude ratio
}

const (
	// Cuts may leave the nearest timbre by this much (dB, root mean square) to meet
	// the loop gain: a step or so of a cut in use, a cut above 10 kHz where none is.
	toneSlack = 0.8
	// What one decibel of timbre is worth in decibels of loop gain.
	toneWorth = 0.03
)

// loops lists the pairs of feedback and cuts whose gain stays within limit and
// whose timbre is near what is wanted, the one whose gain comes nearest to limit
// first; none if even the least feedback is too much.
func (k *deck) loops(wanted timbre, limit float64) []loop {
	if all, ok := k.known[loopWish{wanted, limit}]; ok {
		return all
	}
	type rated struct {
		loop
		short float64
	}
	nearest := k.nearestCut(wanted).timbre.minus(wanted).off()
	var all []rated
	for _, c := range k.cuts {
		off := c.timbre.minus(wanted).off()
		if off > nearest+toneSlack {
			continue
		}
		place := k.feedback.atMost(limit / c.left * (1 + 1e-12))
		if place < 0 || k.feedback[place].value == 0 {
			continue
		}
		code, gain := k.feedback[place].code, k.feedback[place].value*c.left
		all = append(all, rated{loop{c, code, gain}, float64(preset.FromAmplitude(limit/gain)) + toneWorth*off})
	}
	slices.SortStableFunc(all, func(a, b rated) int { return cmp.Compare(a.short, b.short) })
	loops := make([]loop, len(all))
	for i, r := range all {
		loops[i] = r.loop
	}
	k.known[loopWish{wanted, limit}] = loops
	return loops
}

// loopWish is what loops are looked for by: looked for once.
type loopWish struct {
	wanted timbre
	limit  float64
}
