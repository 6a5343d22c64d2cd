package songfile

import (
	"cmp"
	"slices"
)

// A Tick is a place in a song, counted from its start.
type Tick int64

// MaxTick is the last place that is read or written. It keeps every sum of ticks
// times tempo below 2⁶² and is still more than two years at 960 ticks a quarter
// and 120 quarters a minute.
const MaxTick Tick = 1 << 37

// MaxDivision is the largest number of ticks that a quarter note can have; the
// 16th bit says that the division is none.
const MaxDivision = 1<<15 - 1

// A File is a Standard MIDI File.
type File struct {
	Format   int // 0: one track; 1: tracks that sound together, the first with the tempo
	Division int // ticks a quarter note, 1 to MaxDivision
	Tracks   []Track
}

// A Track is a row of events.
type Track struct {
	Events []Event // without the end of the track
	End    Tick    // where the track ends; never before its last event
}

// A PlacedEvent is an event with the track that it stands in, counted from 0.
type PlacedEvent struct {
	Track int
	Event
}

// InOrder is the events of all tracks as they come in time. What stands at one
// tick comes track by track, and within a track as it stands there.
func (f File) InOrder() []PlacedEvent {
	n := 0
	for _, t := range f.Tracks {
		n += len(t.Events)
	}
	all := make([]PlacedEvent, 0, n)
	for i, t := range f.Tracks {
		for _, e := range t.Events {
			all = append(all, PlacedEvent{i, e})
		}
	}
	slices.SortStableFunc(all, func(a, b PlacedEvent) int { return cmp.Compare(a.At, b.At) })
	return all
}
