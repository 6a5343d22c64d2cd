// Package songfile turns a Standard MIDI File into tracks of events and a map of
// its tempo, and tracks of events back into a file.
//
// A file counts time in ticks, of which a quarter note has a fixed number. How
// long a tick lasts is said by tempo events, in whole microseconds a quarter, so
// the time of a tick is a sum of whole numbers over one divisor: [TempoMap]
// reckons with these and rounds only what it hands out. Formats 0 and 1 are read
// and written; format 2 and time in SMPTE frames are refused, since neither has
// one tempo for all tracks.
//
// Statements about the format are from Standard MIDI Files 1.0, RP-001 (revision
// of February 1996).
//
// The newcomer starts with file.go and event.go, then tempomap.go.
package songfile
