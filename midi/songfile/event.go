package songfile

import (
	"fmt"
	"math/bits"

	"echowright/midi"
)

// An Event is something that happens at a tick. Bytes is what the file says of
// it without its delta time and its length, the status always written out:
//
//	channel message      as on the wire: 90 3C 40
//	System Exclusive     as on the wire: F0 … F7; without F7 more packets follow
//	packet that goes on  F7 and its bytes
//	any other bytes      the same: F7 F3 01 sends F3 01
//	meta event           FF, its type, its data: FF 51 07 A1 20
type Event struct {
	At    Tick
	Bytes []byte
}

// MetaType is the second byte of a meta event, 00 to 7F.
type MetaType byte

// The meta events that hold text, and those that [TempoMap] knows. The others
// are kept as they are.
const (
	MetaText          MetaType = 0x01
	MetaCopyright     MetaType = 0x02
	MetaTrackName     MetaType = 0x03
	MetaInstrument    MetaType = 0x04
	MetaLyric         MetaType = 0x05
	MetaMarker        MetaType = 0x06
	MetaCuePoint      MetaType = 0x07
	metaEndOfTrack    MetaType = 0x2F
	metaTempo         MetaType = 0x51
	metaTimeSignature MetaType = 0x58
)

// isMeta is the status of a meta event. On the wire it would be a reset, which a
// file cannot hold but in an F7 event.
const isMeta = 0xFF

// Meta is the type and the data of a meta event; ok is false for all else.
func (e Event) Meta() (kind MetaType, data []byte, ok bool) {
	if len(e.Bytes) < 2 || e.Bytes[0] != isMeta {
		return 0, nil, false
	}
	return MetaType(e.Bytes[1]), e.Bytes[2:], true
}

// Text is what a text of the given type says. Files do not tell their character
// set: the bytes are handed on as they are and need not be UTF-8.
func (e Event) Text(kind MetaType) (text string, ok bool) {
	if k, data, meta := e.Meta(); meta && k == kind {
		return string(data), true
	}
	return "", false
}

// Wire is the bytes that a player sends: none for a meta event. The packets of a
// System Exclusive message, one after the other, are the message.
func (e Event) Wire() []byte {
	switch {
	case len(e.Bytes) == 0 || e.Bytes[0] == isMeta:
		return nil
	case e.Bytes[0] == midi.EndOfSysEx:
		return e.Bytes[1:]
	}
	return e.Bytes
}

// Message is the event that sends one message, as the builders of package midi
// make it. What a file cannot hold as it is (song select, clock) becomes an F7
// event.
func Message(at Tick, message []byte) (Event, error) {
	if len(message) == 0 {
		return Event{}, fmt.Errorf("MIDI message at tick %d: no bytes", at)
	}
	e := Event{at, append([]byte(nil), message...)}
	switch s := message[0]; {
	case s == midi.StartOfSysEx && message[len(message)-1] != midi.EndOfSysEx:
		return Event{}, fmt.Errorf("MIDI message at tick %d: System Exclusive without its F7 at the end", at)
	case s > midi.StartOfSysEx:
		e.Bytes = append([]byte{midi.EndOfSysEx}, message...)
	}
	return e, e.check()
}

// Text is a meta event that holds text: [MetaText], [MetaMarker], [MetaTrackName]
// and so on. Every program reads ASCII; how others are read is up to them.
func Text(at Tick, kind MetaType, text string) (Event, error) {
	if kind < MetaText || kind > 0x0F {
		return Event{}, fmt.Errorf("text at tick %d: meta event %02X holds no text: wanted 01 to 0F", at, byte(kind))
	}
	e := Event{at, append([]byte{isMeta, byte(kind)}, text...)}
	return e, e.check()
}

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

// tempoOf reads the data of a tempo event.
func tempoOf(data []byte) (Tempo, error) {
	if len(data) != 3 {
		return 0, fmt.Errorf("tempo: wanted 3 bytes, got %d", len(data))
	}
	t := Tempo(data[0])<<16 | Tempo(data[1])<<8 | Tempo(data[2])
	return t, t.check()
}

// meterOf reads the data of a time signature. Its last two bytes, for a
// metronome and for notation, say nothing of time.
func meterOf(data []byte) (Meter, error) {
	if len(data) != 4 {
		return Meter{}, fmt.Errorf("time signature: wanted 4 bytes, got %d", len(data))
	}
	if data[1] > maxUnitBits {
		return Meter{}, fmt.Errorf("time signature: the beat is 1/2^%d note: wanted 1/%d at the finest", data[1], maxUnit)
	}
	m := Meter{int(data[0]), 1 << data[1]}
	return m, m.check()
}

// event is the tempo event: FF 51 03 and the microseconds, high byte first.
func (t Tempo) event(at Tick) Event {
	return Event{at, []byte{isMeta, byte(metaTempo), byte(t >> 16), byte(t >> 8), byte(t)}}
}

// event is the time signature: the beat as a power of two, then how many MIDI
// clocks (24 a quarter) the metronome's click has, which is a beat or, where beats
// go by threes, a dotted one, then 32nd notes a quarter.
func (m Meter) event(at Tick) Event {
	click := 96 / m.Unit
	if m.Beats%3 == 0 && m.Beats > 3 && m.Unit >= 8 {
		click *= 3
	}
	return Event{at, []byte{isMeta, byte(metaTimeSignature), byte(m.Beats), byte(bits.TrailingZeros(uint(m.Unit))), byte(max(click, 1)), 8}}
}
