package songfile

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

func TestMessagesAsEvents(t *testing.T) {
	for _, c := range []struct {
		name    string
		message string
		want    string
		wire    string
	}{
		{"program change", "C0 05", "C0 05", "C0 05"},
		{"control change", "BF 63 01", "BF 63 01", "BF 63 01"},
		{"pitch bend", "E0 00 40", "E0 00 40", "E0 00 40"},
		{"System Exclusive", "F0 7D 01 F7", "F0 7D 01 F7", "F0 7D 01 F7"},
		{"song select", "F3 01", "F7 F3 01", "F3 01"},
		{"clock", "F8", "F7 F8", "F8"},
		{"reset, which must not become a meta event", "FF", "F7 FF", "FF"},
	} {
		e, err := Message(7, unhex(t, c.message))
		require.NoError(t, err, c.name)
		require.Equal(t, at(7, c.want), e, c.name)
		require.Equal(t, c.wire, midi.Hex(e.Wire()), c.name)
		_, _, meta := e.Meta()
		require.False(t, meta, c.name)
	}
}

func TestMessagesThatCannotStandInAFile(t *testing.T) {
	for _, c := range []struct {
		at      Tick
		message string
		want    string
	}{
		{3, "", "MIDI message at tick 3: no bytes"},
		{3, "F0 7D 01", "MIDI message at tick 3: System Exclusive without its F7 at the end"},
		{3, "F0 7D 81 F7", "event at tick 3: System Exclusive: data byte 2 is 81: wanted 00 to 7F"},
		{3, "C0", "event at tick 3: message C0: wanted 1 data bytes, got 0"},
		{3, "90 3C 40 3E", "event at tick 3: message 90 3C 40 3E: wanted 2 data bytes, got 3"},
		{3, "90 3C 80", "event at tick 3: message: data byte 2 is 80: wanted 00 to 7F"},
		{3, "3C 40", "event at tick 3: status 3C: a file holds channel messages (80 to EF), F0, F7 and FF"},
		{-3, "C0 05", "event at tick -3: wanted 0 to 137438953472"},
		{MaxTick + 1, "C0 05", "event at tick 137438953473: wanted 0 to 137438953472"},
	} {
		_, err := Message(c.at, unhex(t, c.message))
		require.EqualError(t, err, c.want)
	}
}

func TestMessageKeepsNothingOfTheCaller(t *testing.T) {
	b := []byte{0xC0, 5}
	e, err := Message(0, b)
	require.NoError(t, err)
	b[1] = 6
	require.Equal(t, at(0, "C0 05"), e)
}

// RP-001 reserves the meta events 01 to 0F for texts; a marker is 06.
func TestTexts(t *testing.T) {
	e, err := Text(96, MetaMarker, "Verse")
	require.NoError(t, err)
	require.Equal(t, at(96, "FF 06 56 65 72 73 65"), e)
	require.Nil(t, e.Wire())

	text, ok := e.Text(MetaMarker)
	require.True(t, ok)
	require.Equal(t, "Verse", text)
	_, ok = e.Text(MetaTrackName)
	require.False(t, ok)
	_, ok = at(0, "F0 06 41 F7").Text(MetaMarker)
	require.False(t, ok, "System Exclusive is no text")

	kind, data, ok := at(0, "FF 59 00 01").Meta()
	require.True(t, ok)
	require.Equal(t, MetaType(0x59), kind)
	require.Equal(t, []byte{0, 1}, data)

	empty, err := Text(0, MetaText, "")
	require.NoError(t, err)
	require.Equal(t, at(0, "FF 01"), empty)
}

func TestNoTexts(t *testing.T) {
	_, err := Text(5, 0x51, "Verse")
	require.EqualError(t, err, "text at tick 5: meta event 51 holds no text: wanted 01 to 0F")
	_, err = Text(5, 0, "Verse")
	require.EqualError(t, err, "text at tick 5: meta event 00 holds no text: wanted 01 to 0F")
	_, err = Text(-5, MetaText, "Verse")
	require.EqualError(t, err, "event at tick -5: wanted 0 to 137438953472")
}

func TestAnEventOfNothing(t *testing.T) {
	require.Nil(t, Event{}.Wire())
	_, _, ok := Event{}.Meta()
	require.False(t, ok)
	require.EqualError(t, Event{}.check(), "event at tick 0: no bytes")
}

func TestEventsOfAllTracksInOrder(t *testing.T) {
	f := File{1, 96, []Track{
		{Events: []Event{at(0, "C0 01"), at(96, "C0 02")}},
		{Events: []Event{at(96, "C1 03"), at(50, "C1 04"), at(96, "C1 05")}},
		{Events: []Event{at(0, "C2 06")}},
	}}
	require.Equal(t, []PlacedEvent{
		{0, at(0, "C0 01")},
		{2, at(0, "C2 06")},
		{1, at(50, "C1 04")},
		{0, at(96, "C0 02")},
		{1, at(96, "C1 03")},
		{1, at(96, "C1 05")},
	}, f.InOrder())
	require.Empty(t, File{}.InOrder())
}
