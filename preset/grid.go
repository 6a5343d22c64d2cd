package preset

import (
	"errors"
	"fmt"
)

// errNoNotes is for a set of note values that names none.
var errNoNotes = errors.New("no note values to choose from: name some, such as 1/16,1/8t,1/8")

// Grid moves every head to the note value of notes that lies nearest to it at the
// tempo. Levels, polarity, tone, loop and motion stay as they were measured: no
// machine could do this, a programmable delay can. Heads that end on one note
// value are told by [Retimed.Together]. A moved delay is chosen and no more
// measured, so its deviation is taken away.
func Grid(u Unit, tempo BPM, notes []Note) (Retimed, error) {
	r, err := Unaltered(u, tempo, notes)
	if err != nil {
		return Retimed{}, err
	}
	r.Unit.Heads = append([]Head(nil), u.Heads...)
	for i := range r.Heads {
		h, named := &r.Unit.Heads[i], &r.Heads[i]
		note, _ := NearestNote(h.Delay, tempo, notes)
		h.Delay, h.DelaySD = note.Length(tempo), 0 // exactly, so that two heads on one note are known
		if h.Delay < MinDelay || h.Delay > MaxDelay {
			return Retimed{}, fmt.Errorf("unit %q: head %d would come to %v on %s at %v: delays run from %v to %v",
				u.Name, h.Head, h.Delay, note, tempo, MinDelay, MaxDelay)
		}
		named.Delay, named.Shift, named.Off = h.Delay, h.Delay-u.Heads[i].Delay, 0
	}
	return r, nil
}

// Unaltered is the unit as it is, each head beside the note value of notes that
// it lies nearest to at the tempo.
func Unaltered(u Unit, tempo BPM, notes []Note) (Retimed, error) {
	if err := CheckTempo(tempo); err != nil {
		return Retimed{}, err
	}
	if len(notes) == 0 {
		return Retimed{}, errNoNotes
	}
	r := Retimed{Unit: u, SpeedRatio: 1}
	for _, h := range u.Heads {
		note, off := NearestNote(h.Delay, tempo, notes)
		r.Heads = append(r.Heads, RetimedHead{Head: h.Head, Delay: h.Delay, Note: note.String(), Off: off})
	}
	return r, nil
}

// Nearest is the head that is the least off its note, measured by what can just
// be noticed at its delay.
func (r Retimed) Nearest() RetimedHead {
	best := r.Heads[0]
	for _, h := range r.Heads[1:] {
		if h.misfit() < best.misfit() {
			best = h
		}
	}
	return best
}

// misfit is how far the head is off its note, in just noticeable differences.
func (h RetimedHead) misfit() float64 { return float64(max(h.Off, -h.Off) / TimingJND(h.Delay)) }

// A SharedNote is a note value on which several heads came to lie.
type SharedNote struct {
	Note  string
	Heads []int
}

// Together lists the note values on which more than one head has the very same
// delay, as a grid may bring it about: their echoes add up to one.
func (r Retimed) Together() []SharedNote {
	var all []SharedNote
	for i, h := range r.Heads {
		shared := SharedNote{Note: h.Note}
		first := true
		for j, other := range r.Heads {
			if other.Note == h.Note && other.Delay == h.Delay {
				first = first && j >= i
				shared.Heads = append(shared.Heads, other.Head)
			}
		}
		if first && len(shared.Heads) > 1 {
			all = append(all, shared)
		}
	}
	return all
}
