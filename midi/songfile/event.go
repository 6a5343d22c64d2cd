package songfile

import (
	"fmt"

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
