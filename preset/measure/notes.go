package measure

import "math"

// note is a stretch of the take from one struck note to the next: its onset, and
// where its echoes have died away.
type note struct{ at, end int }

const (
	// Quiet before a note that is not an echo of the one before: longer than the
	// delays of echo machines, which hardly reach a second.
	quietBefore = 1.2 // s
	// A note is no softer than this to the loudest block, an echo mostly is.
	softestNote = 0.05 // power
)

// findNotes finds the notes of a take: sound after quiet.
func findNotes(x []float64, rate, noise float64) []note {
	var notes []note
	for from := 0; from < len(x); {
		on := firstOnset(x[from:], rate, noise)
		if on < 0 {
			break
		}
		on += from
		end := soundEnd(x, on, rate, noise)
		notes = append(notes, note{on, min(len(x), end+int(0.15*rate))})
		from = end + int(quietBefore*rate)
	}
	return loudNotes(x, notes)
}

// soundEnd is where sound that begins at on sinks into the noise and nothing
// rises from it for quietBefore.
func soundEnd(x []float64, on int, rate, noise float64) int {
	size := max(1, int(0.02*rate))
	end, quiet := on, 0
	for i := on; i+size <= len(x) && quiet*size < int(quietBefore*rate); i += size {
		quiet++
		if meanSquare(x[i:i+size]) > 1.3*noise {
			end, quiet = i+size, 0
		}
	}
	return end
}

func loudNotes(x []float64, notes []note) []note {
	power := func(n note) float64 {
		return meanSquare(x[n.at:min(n.end, n.at+2000)])
	}
	top := 0.0
	for _, n := range notes {
		top = math.Max(top, power(n))
	}
	var loud []note
	for _, n := range notes {
		if power(n) >= softestNote*top {
			loud = append(loud, n)
		}
	}
	return loud
}
