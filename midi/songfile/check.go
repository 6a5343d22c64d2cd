package songfile

import (
	"fmt"

	"echowright/midi"
)

// check says why an event cannot stand in a file.
func (e Event) check() error {
	if e.At < 0 || e.At > MaxTick {
		return fmt.Errorf("event at tick %d: wanted 0 to %d", e.At, MaxTick)
	}
	if err := checkBytes(e.Bytes); err != nil {
		return fmt.Errorf("event at tick %d: %w", e.At, err)
	}
	return nil
}

func checkBytes(b []byte) error {
	switch {
	case len(b) == 0:
		return fmt.Errorf("no bytes")
	case len(b) > maxQuantity:
		return fmt.Errorf("%d bytes: an event holds %d at the most", len(b), maxQuantity)
	case b[0] == midi.EndOfSysEx:
		return nil
	case b[0] == isMeta:
		return checkMeta(b[1:])
	case b[0] == midi.StartOfSysEx:
		body := b[1:]
		if n := len(body); n > 0 && body[n-1] == midi.EndOfSysEx {
			body = body[:n-1]
		}
		return checkData("System Exclusive", body)
	}
	n := dataBytes(b[0])
	switch {
	case n == 0:
		return fmt.Errorf("status %02X: a file holds channel messages (80 to EF), F0, F7 and FF", b[0])
	case len(b) != 1+n:
		return fmt.Errorf("message %s: wanted %d data bytes, got %d", midi.Hex(b), n, len(b)-1)
	}
	return checkData("message", b[1:])
}

func checkData(what string, data []byte) error {
	for i, d := range data {
		if d > midi.MaxValue7 {
			return fmt.Errorf("%s: data byte %d is %02X: wanted 00 to 7F", what, i+1, d)
		}
	}
	return nil
}

// dataBytes is how many data bytes follow the status of a channel message; 0 for
// every other byte.
func dataBytes(status byte) int {
	switch status & 0xF0 {
	case 0x80, 0x90, 0xA0, 0xB0, 0xE0:
		return 2
	case 0xC0, 0xD0:
		return 1
	}
	return 0
}

// checkMeta looks at a meta event from its type on. Those that the tempo map is
// made of have to make sense.
func checkMeta(b []byte) error {
	switch {
	case len(b) == 0 || b[0] > midi.MaxValue7:
		return fmt.Errorf("meta event: no type from 00 to 7F")
	case MetaType(b[0]) == metaEndOfTrack:
		return fmt.Errorf("end of track: it stands in Track.End, not among the events")
	case MetaType(b[0]) == metaTempo:
		_, err := tempoOf(b[1:])
		return err
	case MetaType(b[0]) == metaTimeSignature:
		_, err := meterOf(b[1:])
		return err
	}
	return nil
}
