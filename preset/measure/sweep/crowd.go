package sweep

import (
	"fmt"
	"math"
	"strings"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/measure/response"
	"echowright/preset/signals"
)

// A crowd is all that arrives in the trace of an undone sweep. What the machine
// distorts stands once more for each order, earlier by the time of that order.
type crowd []stander

type stander struct {
	at    int // sample of the trace
	level preset.Decibels
	clean bool // the direct sound, which no machine has distorted
}

const (
	tail    = 0.01 // s for which an arrival rings on, at least
	drowned = 20.0 // dB: the harmonic of an arrival so far below the head's hides little of it
	longest = 120  // s: no sweep is advised that is longer
)

func arrivalsOf(r response.Result, t response.Trace) crowd {
	var c crowd
	if t.Dry == nil {
		c = append(c, stander{at: r.DirectAt, clean: true})
	}
	for _, w := range r.Ways {
		c = append(c, stander{at: w.Gate.At, level: w.Level})
	}
	for _, a := range r.Later {
		c = append(c, stander{at: r.DirectAt + int(math.Round(a.After.Samples(t.Rate))), level: a.Level})
	}
	return c
}

// covers says whether another arrival, or the harmonic of one, falls into the
// gate of harmonic n of a way.
func (c crowd) covers(w response.Way, n int, s signals.Sweep, rate preset.Hertz) bool {
	gate := w.Gate.Shifted(-ahead(s, n, rate))
	opens := gate.At - gate.Before - int(tail*float64(rate))
	within := func(at int) bool { return at > opens && at < gate.At+gate.After }
	for _, a := range c {
		if within(a.at) {
			return true
		}
		if a.clean || a.level < w.Level-drowned {
			continue
		}
		for m := 2; m <= highestOrder; m++ {
			if at := a.at - ahead(s, m, rate); (m != n || a.at != w.Gate.At) && within(at) {
				return true
			}
		}
	}
	return false
}

// crowdWarnings name the harmonics that are covered, and a sweep in which they
// would not be.
func crowdWarnings(heads []int, r Result, c crowd, s signals.Signal) []measure.Warning {
	var hidden []string
	for k, number := range heads {
		var orders []string
		for _, d := range r.Harmonics {
			if d.Way == k && d.Covered {
				orders = append(orders, []string{"2nd", "3rd", "4th", "5th"}[d.Order-2])
			}
		}
		if len(orders) > 0 {
			hidden = append(hidden, fmt.Sprintf("head %d the %s", number, strings.Join(orders, ", ")))
		}
	}
	if len(hidden) == 0 {
		return nil
	}
	do := "record one head at a time, with the repeats turned down"
	if seconds, ok := c.clearLength(r.Ways, *s.Sweep, s.Rate); ok {
		do = fmt.Sprintf("use a sweep of %.0f s", seconds)
	}
	return []measure.Warning{{What: "harmonics that stand where another sound does are not told: of " + strings.Join(hidden, ", of "), Do: do}}
}

// clearLength is the next longer sweep in which no harmonic of the ways is covered.
func (c crowd) clearLength(ways []response.Way, s signals.Sweep, rate preset.Hertz) (seconds float64, ok bool) {
	for s.Seconds = math.Floor(s.Seconds) + 1; s.Seconds <= longest; s.Seconds++ {
		clear := true
		for _, w := range ways {
			for n := 2; n <= highestOrder; n++ {
				clear = clear && !c.covers(w, n, s, rate)
			}
		}
		if clear {
			return s.Seconds, true
		}
	}
	return 0, false
}
