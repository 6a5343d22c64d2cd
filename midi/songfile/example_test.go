package songfile_test

import (
	"fmt"

	"echowright/midi"
	"echowright/midi/songfile"
)

// A program change that has to have worked when bar 9 begins, for a device that
// takes 30 ms.
func Example() {
	m, err := songfile.NewTempoMap(480, []songfile.TempoChange{{At: 0, Tempo: 500_000}}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	bar := m.BarAt(9)
	early := m.TickAt(m.TimeAt(bar) - 30_000)
	program, err := midi.ProgramChange(1, 5)
	if err != nil {
		fmt.Println(err)
		return
	}
	change, err := songfile.Message(early, program)
	if err != nil {
		fmt.Println(err)
		return
	}
	file, err := songfile.Format(songfile.File{Format: 1, Division: 480, Tracks: []songfile.Track{
		{Events: m.Events()},
		{Events: []songfile.Event{change}},
	}})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d ticks, %.1f ms before the bar, in a file of %d bytes\n", bar-early, float64(m.TimeAt(bar)-m.TimeAt(early))/1000, len(file))
	// Output: 29 ticks, 30.2 ms before the bar, in a file of 57 bytes
}
