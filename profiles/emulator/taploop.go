package emulator

import (
	"time"

	"echowright/preset"
)

type tapLoop struct{}

func newTapLoop(Options, *output) firmware { return &tapLoop{} }

func (d *tapLoop) read(time.Time, byte)     {}
func (d *tapLoop) alarm() (time.Time, bool) { return time.Time{}, false }
func (d *tapLoop) wake(time.Time)           {}
func (d *tapLoop) memories() int            { return 1 }
func (d *tapLoop) sound(int) Sound {
	return Sound{unit: tapLoopName, arrivals: func(preset.Millis) ([]arrival, error) { return nil, nil }}
}
