package emulator

import (
	"time"

	"echowright/preset"
)

type openParameter struct{}

func newOpenParameter(Options, *output) firmware { return &openParameter{} }

func (d *openParameter) read(time.Time, byte)     {}
func (d *openParameter) alarm() (time.Time, bool) { return time.Time{}, false }
func (d *openParameter) wake(time.Time)           {}
func (d *openParameter) memories() int            { return 1 }
func (d *openParameter) sound(int) Sound {
	return Sound{unit: openParameterName, arrivals: func(preset.Millis) ([]arrival, error) { return nil, nil }}
}
