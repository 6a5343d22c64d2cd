package measure

import (
	"fmt"
	"math"
)

// Figures beyond which a measurement deserves a word.
const (
	loudNoise   = -40.0 // dB of the noise to the peak of the take
	muchLeft    = 6.0   // dB of what is not explained to the noise
	shortLead   = 0.03  // s of quiet before the note
	tailAbove   = 4.0   // times the noise's power at the end of the take
	nearUnity   = -1.0  // dB of the loop gain
	clippedSD   = 3.0   // dB by which levels of a clipped take may be off
	clippedRun  = 3     // samples in a row at the limit
	muchMotion  = 0.001 // peak deviation of speed
	strongDrive = 1.0   // drive times peak: from there on the note is bent
)

// clipping is where x stays at its greatest value: the indices at which runs of
// at least clippedRun samples begin.
func clipping(x []float64) []int {
	top := peakOf(x)
	var at []int
	run := 0
	for i, v := range x {
		if math.Abs(v) < 0.9999*top {
			run = 0
			continue
		}
		if run++; run == clippedRun {
			at = append(at, i-clippedRun+1)
		}
	}
	if len(at) < 2 {
		return nil // one flat top is a flat top
	}
	return at
}

// doubts are the warnings that the take itself calls for.
func (s survey) doubts(rate float64) []Warning {
	var all []Warning
	add := func(what, do string) { all = append(all, Warning{what, do}) }
	if s.cut {
		add(fmt.Sprintf("only the first %d s of the take were measured", maxLength), "cut out what is to be measured")
	}
	if n := len(s.clipped); n > 0 {
		add(fmt.Sprintf("the take is clipped at %d places, at %s; delays hold, levels and loop may be off by %.0f dB", n, stretches(s.clipped, rate), clippedSD),
			"record it again, 6 dB softer")
	}
	if s.hum != nil {
		add(fmt.Sprintf("mains hum of %.2f Hz, %.0f dBFS, was taken out", s.hum.base, 10*math.Log10(s.hum.power())),
			"a better cable or another socket leaves more to measure")
	}
	if top := decibels(peakOf(s.x)); 10*math.Log10(s.noise)-top > loudNoise {
		add(fmt.Sprintf("the noise lies only %.0f dB below the note's peak", top-10*math.Log10(s.noise)), "play louder or record closer to full scale")
	}
	if float64(s.notes[0].at) < shortLead*rate {
		add("there is hardly any quiet before the note, so the noise is not known well", "leave a quarter of a second before the note")
	}
	if size := int(0.05 * rate); len(s.x) > size && meanSquare(s.x[len(s.x)-size:]) > tailAbove*s.noise {
		add("the take ends before the echoes have died away", "let the recording run on until nothing is heard any more")
	}
	return all
}

// doubts are the warnings that the fit calls for.
func (f fitted) doubts() []Warning {
	var all []Warning
	add := func(what, do string) { all = append(all, Warning{what, do}) }
	m := f.machine
	if f.white {
		add("the note rings on over its echoes, so only their attacks were measured", "damp the string at once, and measure again")
	}
	if b := f.beyond(); b > muchLeft {
		add(fmt.Sprintf("%.0f dB more than the noise stays unexplained; the uncertainties are widened by it", b),
			"check that only the heads named were on, and play one short damped note")
	}
	if len(m.feeds) > 0 {
		gain := decibels(m.loopAt(f.sound.rate))
		if gain > nearUnity {
			add(fmt.Sprintf("the loop gain is %+.1f dB: the machine sings, or nearly", gain), "turn the feedback down a little and measure again")
		}
		if m.loop < 0 {
			add("a turn of the loop inverts what the head itself does not; a profile cannot say so", "check the polarity of the feedback path")
		}
	}
	if f.free.drive && math.Sqrt(m.bend)*peakOf(f.sound.take) > strongDrive {
		add("the record path saturates, so levels depend on how loud the note is; one note alone tells drive and level apart poorly",
			"measure again with a softer note, or with level steps")
	}
	if m.wow[0].peak() > muchMotion {
		add(fmt.Sprintf("wow of %.2f %% at %.2f Hz moves the delays; the figures are their means", 100*m.wow[0].peak(), m.wow[0].rate),
			"pool several notes to know the means better")
	}
	return all
}
