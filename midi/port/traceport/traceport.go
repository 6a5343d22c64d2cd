// Package traceport turns a conversation over a port into text, and the text back
// into a port that plays the device's side of it: what somebody sends in with a
// complaint becomes a test.
//
// A trace begins with its format and the time at which it was begun. After that
// there is one line a message, and remarks that begin with #:
//
//	echowright-trace/1 began 2026-03-14T20:15:03.25Z
//	# Seconds since then, > to the device or < from it, the bytes as they passed; behind # for people.
//	0.000012 > F0 7E 7F 06 01 F7  # identity request, unit 127, 6 bytes
//	0.004310 < F8  # clock
//	0.009871 < F0 7E 05 F8 06 02 7D 01 00 02 00 31 30 30 30 F7  # identity reply: …; 1 real-time byte within
//	# 0.120000 ask for slot 5: no answer, sent again
//	0.120500 > F0 7D 05  # goes on below
//	0.121000 < F8  # clock
//	0.121320 > 20 05 F7  # the rest of: System Exclusive of manufacturer 7D, 6 bytes
//	0.300000 gone  # port raw:/dev/snd/midiC1D0: receiving: the other side went away
//
// The bytes stand there exactly as they passed and in that order. A line ends
// with its message, or where the other side speaks; real-time bytes within a
// message stay within its line; bytes that belong to no message, and messages
// that are broken off, have lines of their own.
//
// Lines grow while bytes pass, so that a program that is killed leaves all but
// what passed last. The newcomer goes on with writer.go.
package traceport

// Scheme is what stands before the path in a port's name.
const Scheme = "trace"

// The words of a trace.
const (
	format    = "echowright-trace/1"
	beganWord = "began"
	toDevice  = ">"
	toUs      = "<"
	hungUp    = "gone"
)
