package preset

import "fmt"

// A Retimed is a unit brought to a song's tempo.
type Retimed struct {
	Unit       Unit
	SpeedRatio float64 // 1 is the speed at which it was measured, 2 twice as fast
	Heads      []RetimedHead
}

// A RetimedHead is one head as it now is, beside the note value it lies nearest
// to: Off is how late (+) it comes there, Shift how much later (+) than measured.
type RetimedHead struct {
	Head  int    `json:"head"`
	Delay Millis `json:"delay_ms"`
	Note  string `json:"note"`
	Off   Millis `json:"off_ms"`
	Shift Millis `json:"shift_ms"`
}

// Retime lets the unit run faster or slower until the given head falls on the
// note at the tempo. All delays scale together, and with them what a machine at
// another speed would change: see AtSpeed. How far a motor would go along is for
// [ReachOf] to say. The error is about the tempo, the head, or a head that would
// come to lie where no unit has one.
func Retime(u Unit, tempo BPM, note Note, head int) (Retimed, error) {
	if err := CheckTempo(tempo); err != nil {
		return Retimed{}, err
	}
	anchor, ok := u.Head(head)
	if !ok {
		return Retimed{}, fmt.Errorf("unit %q has no head %d: it has %v", u.Name, head, u.HeadNumbers())
	}
	ratio := float64(anchor.Delay / note.Length(tempo))
	r := Retimed{Unit: u.AtSpeed(ratio), SpeedRatio: ratio}
	for i := range r.Unit.Heads {
		h := &r.Unit.Heads[i]
		named := RetimedHead{Head: h.Head, Note: note.String()}
		if h.Head == head {
			h.Delay = note.Length(tempo) // exactly, not by way of the ratio
		} else {
			var nearest Note
			nearest, named.Off = NearestNote(h.Delay, tempo, CommonNotes())
			named.Note = nearest.String()
		}
		if h.Delay < MinDelay || h.Delay > MaxDelay {
			return Retimed{}, fmt.Errorf("unit %q with head %d on %s at %v: head %d would come to %.4g ms: delays run from %v to %v; choose another note or head",
				u.Name, head, note, tempo, h.Head, float64(h.Delay), MinDelay, MaxDelay)
		}
		named.Delay, named.Shift = h.Delay, h.Delay-u.Heads[i].Delay
		r.Heads = append(r.Heads, named)
	}
	return r, nil
}

// AtSpeed is the unit with its carrier running faster by ratio (above 0): delays
// divided by it, corners of tone and rates of wow and flutter times it. Levels
// and loop gain stay: they are set by amplifiers, not by speed. So do the depths
// of wow and flutter, which are shares of the speed.
func (u Unit) AtSpeed(ratio float64) Unit {
	out := u
	out.Heads = append([]Head(nil), u.Heads...)
	for i := range out.Heads {
		h := &out.Heads[i]
		tone := h.Tone().AtSpeed(ratio)
		h.Delay /= Millis(ratio)
		h.DelaySD /= Millis(ratio)
		h.LowCutHz, h.HighCutHz = tone.LowCut, tone.HighCut
	}
	if u.Motion != nil {
		m := *u.Motion
		m.SpeedRatio *= ratio
		m.WowHz *= Hertz(ratio)
		m.FlutterHz *= Hertz(ratio)
		out.Motion = &m
	}
	return out
}
