package measure

import (
	"math"
	"slices"
)

// note is a stretch of the take from one struck note to the next: its onset, and
// where its echoes have died away.
type note struct{ at, end int }

const (
	// What rises above all that stood in so long a time before is no echo: the
	// delays of echo machines hardly reach a second.
	quietBefore   = 1.0  // s
	riseOfNote    = 16.0 // as a power
	longestEchoes = 8.0  // s of a note's echoes that are looked at
	// A note is no softer than this to the loudest block.
	softestNote = 0.05 // power
)

// findNotes finds the notes of a take: the first sound, and what rises out of a
// second of much softer sound.
func findNotes(x []float64, rate, noise float64) []note {
	on := firstOnset(x, rate, noise)
	if on < 0 {
		return nil
	}
	size := max(1, int(0.01*rate))
	levels := blockLevels(x, size)
	back := int(quietBefore * rate / float64(size))
	notes := []note{{at: on}}
	for i := on/size + back; i < len(levels); i++ {
		before := slices.Max(levels[i-back : i])
		if levels[i] > riseOfNote*math.Max(before, noise) && i*size > notes[len(notes)-1].at+back*size {
			// The onset lies in this block or at the end of the one before.
			from := max(0, (i-1)*size)
			at := firstOnset(x[from:min(len(x), from+4*size)], rate, math.Max(before, noise))
			notes = append(notes, note{at: from + max(0, at)})
		}
	}
	for i := range notes {
		end := min(len(x), notes[i].at+int(longestEchoes*rate))
		if i+1 < len(notes) {
			end = min(end, notes[i+1].at-int(0.005*rate))
		}
		notes[i].end = min(end, notes[i].at+lastSound(x[notes[i].at:end], rate, noise))
	}
	return loudNotes(x, notes)
}

// lastSound is the index after which nothing of x rises from the noise any more,
// with some margin.
func lastSound(x []float64, rate, noise float64) int {
	size := max(1, int(0.02*rate))
	levels := blockLevels(x, size)
	last := len(levels)
	for last > 0 && levels[last-1] < 1.3*noise {
		last--
	}
	return min(len(x), last*size+int(0.15*rate))
}

func loudNotes(x []float64, notes []note) []note {
	power := func(n note) float64 {
		return meanSquare(x[n.at:min(n.end, n.at+2000)])
	}
	top := 0.0
	for _, n := range notes {
		top = math.Max(top, power(n))
	}
	return slices.DeleteFunc(notes, func(n note) bool { return power(n) < softestNote*top })
}
