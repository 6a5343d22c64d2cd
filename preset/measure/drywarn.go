package measure

import (
	"fmt"
	"math"
	"slices"
)

const (
	unexplainedDB = 6.0 // above the noise
	// A clipped channel is told with so many of the times at which it is.
	clipsTold = 4
)

func (e explanation) warnings() []Warning {
	all := append(e.c.doubts(), e.restWords()...)
	if e.heard < dullTop {
		all = append(all, Warning{
			What: fmt.Sprintf("nothing above %.0f Hz sounds, so that the tone and the delays are told apart poorly; the deviations say how far", e.heard),
			Do:   "play something brighter",
		})
	}
	if e.unit.leaks {
		all = append(all, Warning{
			What: fmt.Sprintf("the direct sound is heard in the wet channel too, at %.1f dB", decibels(e.unit.leak)),
			Do:   "nothing: it was told apart; turn the direct sound of the machine down if you can",
		})
	}
	if len(e.counts) > 0 {
		all = append(all, e.doubtOfCount())
	}
	return append(all, e.loopWords()...)
}

// doubts are the warnings that the channels themselves call for.
func (c channels) doubts() []Warning {
	var all []Warning
	add := func(what, do string) { all = append(all, Warning{what, do}) }
	if c.cut {
		add(fmt.Sprintf("only %d s of the take were measured, from %.0f s on", dryLongest, c.from), "nothing, if the machine was the same all along; else cut the take")
	}
	for _, s := range c.clipped {
		if len(s.at) > 0 {
			add(fmt.Sprintf("the %s channel is clipped at %d places: %s", s.channel, len(s.at), c.times(s.at)), "record it again, 6 dB softer")
		}
	}
	if c.drifted != 0 {
		add(fmt.Sprintf("the clocks of the two channels differ by %.2f ppm, which was corrected", 1e6*c.drifted), "record both channels with one device")
	}
	for _, ch := range []struct {
		name  string
		x     []float64
		noise float64
	}{{"dry", c.dry, c.dryNoise}, {"wet", c.wet, c.wetNoise}} {
		if top := decibels(peakOf(ch.x)); ch.noise > 0 && 10*math.Log10(ch.noise)-top > loudNoise {
			add(fmt.Sprintf("the noise of the %s channel lies only %.0f dB below its peak", ch.name, top-10*math.Log10(ch.noise)), "play louder or record closer to full scale")
		}
	}
	if size := int(0.05 * c.rate); c.wetNoise > 0 && len(c.wet) > size && meanSquare(c.wet[len(c.wet)-size:]) > tailAbove*c.wetNoise {
		add("the take ends before the echoes have died away", "nothing: what is missing was left open; let the recording run on next time")
	}
	return all
}

// times are when samples are, the first of many, with how many more there are.
func (c channels) times(at []int) string {
	text := ""
	for i, k := range at[:min(len(at), clipsTold)] {
		if i > 0 {
			text += ", "
		}
		text += fmt.Sprintf("%.3f s", c.from+float64(k)/c.rate)
	}
	if more := len(at) - clipsTold; more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}

// restWords say what is left of the wet channel and what it looks like.
func (e explanation) restWords() []Warning {
	rest := e.restPower()
	over := 10 * math.Log10(rest/e.noise())
	if over <= unexplainedDB {
		return nil
	}
	below := 10 * math.Log10(meanSquare(e.c.wet)/rest)
	d := drive{}
	if e.moves == nil {
		d = findDrive(e.c.wet, e.left, e.c.rate, e.noise())
	}
	what := fmt.Sprintf("%.0f dB more than the noise is left of the wet channel, %.0f dB below it: ", over, below)
	switch {
	case e.unnamed > 0:
		return []Warning{{what + "more heads sound than are named, " + e.unnamedWords(), "name all heads that were on"}}
	case d.softer > driveTold:
		return []Warning{{what + fmt.Sprintf("it looks like drive, for loud notes come back %.1f dB softer than soft ones", d.softer),
			"trust levels no further than that; play softer, or measure the drive with level steps"}}
	case d.steep:
		return []Warning{{what + "it looks like drive, for it grows faster than the sound does", "play softer, or measure the drive with level steps"}}
	}
	return []Warning{{what + "the unit does something that is not looked for, such as an unsteady speed, or the dry channel holds more than the direct sound",
		"trust the figures as far as their deviations say, and check what was recorded where"}}
}

// restPower is the mean square of what is left where it was fitted.
func (e explanation) restPower() float64 {
	from, to := 0, len(e.left)
	if e.moves != nil {
		from, to = int(e.fitted.from*e.c.rate), min(to, int(e.fitted.to*e.c.rate))
	}
	return math.Max(meanSquare(e.left[from:max(from, to)]), 1e-30)
}

// loopWords are the warnings that the loop calls for.
func (e explanation) loopWords() []Warning {
	var all []Warning
	add := func(what, do string) { all = append(all, Warning{what, do}) }
	tone := e.unit.tone.amplitude(1000)
	feeding, top, inverts := 0, 0.0, false
	for k, on := range e.unit.feeds {
		if on {
			feeding++
			top = math.Max(top, math.Abs(e.unit.fed[k]*tone))
			inverts = inverts || e.unit.fed[k]*e.unit.gain[k] < 0
		}
	}
	if feeding > 1 {
		add(fmt.Sprintf("%d heads feed the loop", feeding), "the gain told is that of the strongest of them; check the others by recording each alone")
	}
	if feeding > 0 && decibels(top) > nearUnity {
		add(fmt.Sprintf("the loop gain is %+.1f dB: the machine sings, or nearly", decibels(top)), "turn the feedback down a little and measure again")
	}
	if inverts {
		add("a turn of the loop inverts what the head itself does not, or the dry channel holds the machine's echoes too; a profile cannot say so",
			"check that the dry channel holds the direct sound alone, then the polarity of the feedback path")
	}
	return all
}

// doubtOfCount says how sure the number of heads is.
func (e explanation) doubtOfCount() Warning {
	n := len(e.unit.delay)
	at := slices.IndexFunc(e.counts, func(c counted) bool { return c.heads == n })
	say := fmt.Sprintf("no heads were named: %d were found and numbered from 1", n)
	if at > 0 {
		say += fmt.Sprintf("; one less leaves %.1f dB more", 10*math.Log10(e.counts[at-1].cost/e.counts[at].cost))
	}
	if at >= 0 && at+1 < len(e.counts) {
		say += fmt.Sprintf(", one more %.1f dB less", 10*math.Log10(e.counts[at].cost/e.counts[at+1].cost))
	}
	return Warning{What: say, Do: "name the heads that were on"}
}
