package measure

import (
	"fmt"
	"math"
	"strings"
)

const (
	// Echoes that follow the note or each other so soon, ms, run into one.
	tooNear = 30
	// Stretches of clipping nearer than this, s, are one; so many are told.
	oneStretch      = 0.02
	mostStretches   = 3
	hiddenByTheNote = 1.5 // times the first delay that the note lasts
	noteHeard       = 25  // dB below its loudest a note is heard
)

// coverDoubts are the warnings that what covers the first echo calls for: a note
// that lasts longer, or that is hardly over when the echo comes.
func (f noteFit) coverDoubts() []Warning {
	first, note := 1000*f.machine.first(), f.lasts()
	switch {
	case first < tooNear:
		return []Warning{{
			What: fmt.Sprintf("the first echo follows the note by only %.1f ms, so the two run into one; nearer than %.0f ms none is looked for", first, 1000*nearest),
			Do:   "use a shorter note, or a click, or record the direct sound in a channel of its own",
		}}
	case !f.white && note > hiddenByTheNote*first:
		return []Warning{{
			What: fmt.Sprintf("the note lasts about %.0f ms and hides the first echo, which comes after %.0f ms and is known by its end and its repeats only", note, first),
			Do:   "damp the string sooner",
		}}
	}
	return nil
}

// lasts is how long the direct sound is heard, ms. The fit may allow it longer.
func (f noteFit) lasts() float64 {
	left := f.left()
	top := math.Inf(-1)
	for _, l := range left {
		if v := float64(l); !math.IsNaN(v) {
			top = math.Max(top, v)
		}
	}
	last := 0.0
	for i, l := range left {
		if float64(l) > top-noteHeard {
			last = float64(i+1)*float64(leftStep) - float64(f.onset)
		}
	}
	return math.Min(last, 1000*noteLengths[f.rung])
}

// stretches tells from when to when, s, runs that begin at those samples reach.
func stretches(runs []int, rate float64) string {
	var words []string
	more := 0
	for i := 0; i < len(runs); {
		j := i
		for j+1 < len(runs) && float64(runs[j+1]-runs[j]) < oneStretch*rate {
			j++
		}
		from, to := float64(runs[i])/rate, float64(runs[j])/rate
		switch {
		case len(words) == mostStretches:
			more++
		case j == i:
			words = append(words, fmt.Sprintf("%.3f s", from))
		default:
			words = append(words, fmt.Sprintf("%.3f–%.3f s", from, to))
		}
		i = j + 1
	}
	if more > 0 {
		return strings.Join(words, ", ") + fmt.Sprintf(" and %d stretches more", more)
	}
	return listed(words)
}
