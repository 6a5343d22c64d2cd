package main

import (
	"net"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"echowright/midi"
	"echowright/midi/songclock"
)

// A clockPart is so many beats at a tempo.
type clockPart struct{ tempo, beats float64 }

// startClock is a sequencer behind a socket: "clock SOCKET DONE BPM:BEATS …" plays
// MIDI clock to the first caller, makes the file DONE when all is played, and stays
// on the line without a word until the script ends.
func startClock(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) < 3 {
		ts.Fatalf("usage: clock SOCKET DONE BPM:BEATS …")
	}
	var parts []clockPart
	for _, word := range args[2:] {
		tempo, beats, _ := strings.Cut(word, ":")
		var p clockPart
		var err error
		p.tempo, err = strconv.ParseFloat(tempo, 64)
		ts.Check(err)
		p.beats, err = strconv.ParseFloat(beats, 64)
		ts.Check(err)
		parts = append(parts, p)
	}
	done := ts.MkAbs(args[1])
	listener, err := net.Listen("unix", ts.MkAbs(args[0]))
	ts.Check(err)
	ended := make(chan struct{})
	ts.Defer(func() {
		close(ended)
		listener.Close()
	})
	go func() {
		caller, err := listener.Accept()
		if err != nil {
			return
		}
		defer caller.Close()
		playClock(caller, parts)
		_ = os.WriteFile(done, nil, 0o644) // a script that waits for it fails
		<-ended
	}()
}

// playClock sends each clock at its own time, counted from the beginning: 24 a
// beat (MIDI 1.0 Detailed Specification 4.2.1, page 30).
func playClock(to net.Conn, parts []clockPart) {
	due := time.Now()
	for _, p := range parts {
		for range int(p.beats * songclock.PerBeat) {
			due = due.Add(time.Duration(60 / p.tempo / songclock.PerBeat * float64(time.Second)))
			time.Sleep(time.Until(due))
			if _, err := to.Write([]byte{midi.TimingClock}); err != nil {
				return
			}
		}
	}
}
