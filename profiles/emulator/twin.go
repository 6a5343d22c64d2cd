package emulator

import (
	"time"

	"echowright/preset"
)

type twin struct{}

func newTwin(Options, *output) firmware { return &twin{} }

func (d *twin) read(time.Time, byte)     {}
func (d *twin) alarm() (time.Time, bool) { return time.Time{}, false }
func (d *twin) wake(time.Time)           {}
func (d *twin) memories() int            { return 1 }
func (d *twin) sound(int) Sound {
	return Sound{unit: twinName, arrivals: func(preset.Millis) ([]arrival, error) { return nil, nil }}
}
