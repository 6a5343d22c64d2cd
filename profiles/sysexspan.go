package profiles

import (
	"bytes"
	"fmt"

	"echowright/midi"
)

// A span is some bytes of a stream: a System Exclusive message, or what stands
// between two of them.
type span struct {
	at, end   int // at ≤ i < end
	exclusive bool
	bytes     []byte // the message, without real-time bytes inside it
	fault     midi.Fault
}

// place tells for people where the span lies, counted from 0.
func (s span) place() string {
	if s.end == s.at+1 {
		return fmt.Sprintf("byte %d", s.at)
	}
	return fmt.Sprintf("bytes %d to %d", s.at, s.end-1)
}

// sysexSpans cuts a stream into messages and what stands between them.
func sysexSpans(stream []byte) []span {
	var all []span
	var framer midi.Framer
	done, begun := 0, 0 // up to where all is cut; where the message under way began
	cut := func(end int, f midi.Frame) {
		if !f.IsSysEx() {
			return // short messages are what stands between
		}
		if begun > done {
			all = append(all, span{at: done, end: begun})
		}
		all = append(all, span{at: begun, end: end, exclusive: true, bytes: bytes.Clone(f.Bytes), fault: f.Fault})
		done = end
	}
	for i := range stream {
		end := i
		if stream[i] == midi.EndOfSysEx {
			end = i + 1
		}
		framer.Feed(stream[i:i+1], func(f midi.Frame) { cut(end, f) })
		if stream[i] == midi.StartOfSysEx {
			begun = i
		}
	}
	framer.End(func(f midi.Frame) { cut(len(stream), f) })
	if done < len(stream) {
		all = append(all, span{at: done, end: len(stream)})
	}
	return all
}
