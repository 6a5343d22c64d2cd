package songfile

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"slices"

	"echowright/midi"
)

// Format is the bytes of the file. Events are written in the order of their
// ticks, those of one tick in the order in which they stand in the track; running
// status is used wherever it can be, as the standard's own examples do.
func Format(f File) ([]byte, error) {
	if err := f.check(); err != nil {
		return nil, fmt.Errorf("MIDI file: %w", err)
	}
	be := binary.BigEndian
	out := be.AppendUint32([]byte("MThd"), headerLength)
	for _, word := range []int{f.Format, len(f.Tracks), f.Division} {
		out = be.AppendUint16(out, uint16(word))
	}
	for i, t := range f.Tracks {
		out = append(out, "MTrk\x00\x00\x00\x00"...)
		start := len(out)
		var err error
		if out, err = t.appendTo(out); err != nil {
			return nil, fmt.Errorf("MIDI file: track %d: %w", i+1, err)
		}
		length := len(out) - start
		if length > math.MaxInt32 {
			return nil, fmt.Errorf("MIDI file: track %d: %d bytes: wanted %d at the most", i+1, length, math.MaxInt32)
		}
		be.PutUint32(out[start-4:], uint32(length))
	}
	return out, nil
}

func (f File) check() error {
	switch n := len(f.Tracks); {
	case f.Format != 0 && f.Format != 1:
		return fmt.Errorf("format %d: 0 and 1 are written", f.Format)
	case f.Division < 1 || f.Division > MaxDivision:
		return fmt.Errorf("%d ticks per quarter note: wanted 1 to %d", f.Division, MaxDivision)
	case f.Format == 0 && n != 1, n < 1, n > math.MaxUint16:
		return fmt.Errorf("%d tracks in format %d: format 0 has one, format 1 up to %d", n, f.Format, math.MaxUint16)
	}
	return nil
}

func (t Track) appendTo(out []byte) ([]byte, error) {
	events := slices.Clone(t.Events)
	slices.SortStableFunc(events, func(a, b Event) int { return cmp.Compare(a.At, b.At) })
	var now Tick
	var running byte
	for _, e := range events {
		err := e.check()
		if err == nil {
			out, err = appendDelta(out, e.At-now)
		}
		if err != nil {
			return nil, err
		}
		out = e.appendTo(out, running)
		running = 0
		if dataBytes(e.Bytes[0]) > 0 {
			running = e.Bytes[0]
		}
		now = e.At
	}
	if t.End > MaxTick {
		return nil, fmt.Errorf("end at tick %d: wanted %d at the most", t.End, MaxTick)
	}
	out, err := appendDelta(out, max(0, t.End-now))
	return append(out, isMeta, byte(metaEndOfTrack), 0), err
}

func appendDelta(out []byte, delta Tick) ([]byte, error) {
	if delta > maxQuantity {
		return nil, fmt.Errorf("%d ticks without an event: a file can state %d: place a text in between", delta, maxQuantity)
	}
	return appendQuantity(out, int(delta)), nil
}

func (e Event) appendTo(out []byte, running byte) []byte {
	head, data := e.Bytes[:1], e.Bytes[1:]
	switch status := e.Bytes[0]; {
	case status == running:
		return append(out, data...)
	case status < midi.StartOfSysEx:
		return append(out, e.Bytes...)
	case status == isMeta:
		head, data = e.Bytes[:2], e.Bytes[2:]
	}
	out = appendQuantity(append(out, head...), len(data))
	return append(out, data...)
}
