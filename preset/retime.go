package preset

import "fmt"

// A Retimed is a unit brought to a song's tempo by its speed.
type Retimed struct {
	Unit       Unit
	SpeedRatio float64 // 1 is the speed at which it was measured, 2 twice as fast
	Heads      []RetimedHead
}

// A RetimedHead is one head at the new speed, beside the note value it lies
// nearest to; Off is how late (+) it comes there.
type RetimedHead struct {
	Head  int    `json:"head"`
	Delay Millis `json:"delay_ms"`
	Note  string `json:"note"`
	Off   Millis `json:"off_ms"`
}

// Retime lets the unit run faster or slower until the given head falls on the
// note at the tempo. All delays scale together, and with them what a machine at
// another speed would change: see AtSpeed.
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
		if h.Head == head {
			h.Delay = note.Length(tempo) // exactly, not by way of the ratio
			r.Heads = append(r.Heads, RetimedHead{Head: h.Head, Delay: h.Delay, Note: note.String()})
			continue
		}
		nearest, off := NearestNote(h.Delay, tempo, CommonNotes())
		r.Heads = append(r.Heads, RetimedHead{Head: h.Head, Delay: h.Delay, Note: nearest.String(), Off: off})
	}
	return r, nil
}

// AtSpeed is the unit with its carrier running faster by ratio (above 0): delays
// divided by it, corners of tone and rates of wow and flutter times it. Levels
// and loop gain stay: they are set by amplifiers, not by speed.
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
