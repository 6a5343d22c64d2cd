// Package midi turns values into checked MIDI 1.0 messages and a stream of bytes
// back into messages. Beside that it holds what old and new hardware does to its
// data on the way: packing 8 bits into 7, checksums and CRCs, the identity that a
// device gives of itself, and the [Step], one message with the answers it may
// get. It does no I/O.
//
// Statements about the protocol are from the MIDI 1.0 Detailed Specification,
// document version 4.2.1 (1996), called M1 in the comments.
//
// The newcomer starts with message.go, then framer.go and step.go.
package midi
