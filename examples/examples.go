// Package examples carries the take of the demonstration, so that the program
// has it wherever it runs. All that stands in this folder belongs to one
// invented scenario; takes/README.md says where the sound comes from.
package examples

import _ "embed"

// TakeName is the file name of the take.
const TakeName = "saltmarsh-heads-246.wav"

// Take is the recording of one damped note through an invented drum machine:
// WAV, 24 bit, 48 kHz, mono.
//
//go:embed takes/saltmarsh-heads-246.wav
var Take []byte
