// Package learn turns the messages that arrive while one thing is changed on a
// device into what they say about it: which message moves, over which range, in
// which order of bytes, and the lines of a device profile that describe it.
//
// [Knob] looks at what one knob sends when it is turned from end to end. [Places]
// compares what two knobs send, to tell the number of a parameter from the bytes
// that never change. [Dumps] compares two dumps of a memory that differ in one
// parameter.
//
// What it gives is a guess with its reasons, for a person who has the hardware at
// hand and can turn the knob once more.
//
// The newcomer starts with knob.go, then sysex.go and dumps.go.
package learn
