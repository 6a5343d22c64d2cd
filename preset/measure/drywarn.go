package measure

import (
	"fmt"
	"math"
	"slices"
)

const (
	unexplainedDB = 6.0 // above the noise
)

func (e explanation) warnings() []Warning {
	var all []Warning
	if e.c.cut {
		all = append(all, Warning{
			What: fmt.Sprintf("only the first %d s of the take were measured", maxLength),
			Do:   "nothing, if the machine was the same all along; else cut the take",
		})
	}
	if e.c.drifted != 0 {
		all = append(all, Warning{
			What: fmt.Sprintf("the clocks of the two channels differ by %.2f ppm, which was corrected", 1e6*e.c.drifted),
			Do:   "record both channels with one device",
		})
	}
	if rest := 10 * math.Log10(meanSquare(e.left)/e.noise()); rest > unexplainedDB {
		all = append(all, Warning{
			What: fmt.Sprintf("%.0f dB more than the noise is left of the wet channel: the unit does something that is not looked for, such as distortion or an unsteady speed", rest),
			Do:   "trust the figures as far as their deviations say, and play softer",
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
	if n := e.feeding(); n > 1 {
		all = append(all, Warning{
			What: fmt.Sprintf("%d heads feed the loop", n),
			Do:   "the gain told is that of the strongest of them; check the others by recording each alone",
		})
	}
	return all
}

func (e explanation) feeding() int {
	n := 0
	for _, on := range e.unit.feeds {
		if on {
			n++
		}
	}
	return n
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
