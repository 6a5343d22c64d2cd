package preset

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// A Note is a note value as a share of a whole note: 1/8 with a dot is half as
// long again, as a triplet two thirds.
type Note struct {
	Denominator int // 1, 2, 4, 8, 16, 32 or 64
	Dots        int // 0 or 1
	Triplet     bool
}

// The tempi that are taken for tempi; the metronome's own run from 40 to 208.
const (
	MinTempo BPM = 10
	MaxTempo BPM = 1000
)

// ParseNote reads "1/4", "1/8." (dotted) or "1/8t" (triplet).
func ParseNote(s string) (Note, error) {
	rest, ok := strings.CutPrefix(s, "1/")
	n := Note{}
	if body, dotted := strings.CutSuffix(rest, "."); dotted {
		rest, n.Dots = body, 1
	} else if body, triplet := strings.CutSuffix(rest, "t"); triplet {
		rest, n.Triplet = body, true
	}
	d, err := strconv.Atoi(rest)
	switch {
	case !ok || err != nil || strconv.Itoa(d) != rest:
		return Note{}, fmt.Errorf("note %q: write 1/4, 1/8. (dotted) or 1/8t (triplet)", s)
	case d < 1 || d > 64 || d&(d-1) != 0:
		return Note{}, fmt.Errorf("note %q: there is no such note value; there are 1/1, 1/2, 1/4, 1/8, 1/16, 1/32, 1/64", s)
	}
	n.Denominator = d
	return n, nil
}

func (n Note) String() string {
	s := "1/" + strconv.Itoa(n.Denominator)
	if n.Triplet {
		return s + "t"
	}
	return s + strings.Repeat(".", n.Dots)
}

// Quarters is the length in quarter notes (beats).
func (n Note) Quarters() float64 {
	q := 4 / float64(n.Denominator)
	if n.Triplet {
		return q * 2 / 3
	}
	if n.Dots == 1 {
		return q * 1.5
	}
	return q
}

// Length is how long the note lasts at tempo: 60000/BPM a quarter.
func (n Note) Length(tempo BPM) Millis { return Millis(60_000 / float64(tempo) * n.Quarters()) }

// CheckTempo refuses what is no tempo.
func CheckTempo(tempo BPM) error {
	if !finite(float64(tempo)) || tempo < MinTempo || tempo > MaxTempo {
		return fmt.Errorf("tempo %v: must lie from %v to %v beats a minute", float64(tempo), float64(MinTempo), float64(MaxTempo))
	}
	return nil
}

// TempoOf is the tempo whose beat lasts so long: 60000/beat.
func TempoOf(beat Millis) BPM { return BPM(60_000 / beat) }

// NearestNote is the note value of notes whose length at tempo lies nearest to
// delay, in milliseconds, and how far delay is off it (+ late). Of two that lie as
// near, it is the first.
func NearestNote(delay Millis, tempo BPM, notes []Note) (Note, Millis) {
	var best Note
	least := Millis(math.Inf(1))
	for _, n := range notes {
		if off := delay - n.Length(tempo); max(off, -off) < max(least, -least) {
			best, least = n, off
		}
	}
	return best, least
}

// ParseNotes reads a set of note values, such as "1/16", "1/8t" and "1/8", each
// once.
func ParseNotes(words []string) ([]Note, error) {
	var all []Note
	for _, w := range words {
		n, err := ParseNote(w)
		if err != nil {
			return nil, err
		}
		if slices.Contains(all, n) {
			return nil, fmt.Errorf("note %q stands twice: each note value once", w)
		}
		all = append(all, n)
	}
	if len(all) == 0 {
		return nil, errNoNotes
	}
	return all, nil
}

// CommonNotes are the note values that delays are named after: from a whole note
// to a 32nd, plain, dotted and as triplets.
func CommonNotes() []Note {
	var all []Note
	for d := 1; d <= 32; d *= 2 {
		all = append(all, Note{Denominator: d}, Note{Denominator: d, Dots: 1}, Note{Denominator: d, Triplet: true})
	}
	return all
}
