package emulator

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"echowright/preset"
)

// A Sound is what stands in a memory, or sounds, at one moment.
type Sound struct {
	unit     string
	codes    []parameter
	dry      float64
	stored   []byte
	arrivals func(limit preset.Millis) ([]arrival, error)
}

// parameter is a code under the name that the manual gives it.
type parameter struct {
	name string
	code int
}

// arrival is sound at the output: its amplitude over that of the input,
// negative where inverted, at 1 kHz.
type arrival struct {
	at        preset.Millis
	amplitude float64
}

// ErrHowls is returned for the echoes of a loop that feeds back as much as it
// gets, or more: they grow for ever.
var ErrHowls = errors.New("the loop howls")

// What echoes may be asked for.
const (
	longestLimit preset.Millis = 60_000
	// Two arrivals nearer than this are one echo.
	together preset.Millis = 0.0002
	// What the decibels of an echo exactly at the floor may lose in the reckoning.
	floorRounding preset.Decibels = 1e-9
)

// Parameters are the names that Code knows, in the manual's order.
func (s Sound) Parameters() []string {
	var names []string
	for _, p := range s.codes {
		names = append(names, p.name)
	}
	return names
}

// Code is what the parameter of that name is set to: see Parameters.
func (s Sound) Code(name string) (int, error) {
	for _, p := range s.codes {
		if p.name == name {
			return p.code, nil
		}
	}
	return 0, fmt.Errorf("emulator %s: no parameter %q; there are: %q", s.unit, name, s.Parameters())
}

// Dry is the amplitude at which the direct sound passes.
func (s Sound) Dry() float64 { return s.dry }

// Bytes is the memory as the unit stores it, where the manual tells that; else
// there are none.
func (s Sound) Bytes() []byte { return slices.Clone(s.stored) }

// Echoes is what becomes of a click, computed from the codes by the manual's
// signal path: down to floor (dB over the direct sound at the input), up to and
// with limit, sorted by time; what falls together is added up with its sign. It
// holds for a soft sound, which no stage drives, and for a tape that does not
// wobble; of the filters it takes what they leave of 1 kHz at each pass, not
// their phase. The error wraps [ErrHowls] where the loop would never die away.
func (s Sound) Echoes(floor preset.Decibels, limit preset.Millis) ([]preset.Echo, error) {
	if !(limit >= 0 && limit <= longestLimit) || math.IsNaN(float64(floor)) {
		return nil, fmt.Errorf("emulator %s: echoes down to %v, up to %v: ask for up to %v", s.unit, floor, limit, longestLimit)
	}
	arrivals, err := s.arrivals(limit)
	if err != nil {
		return nil, fmt.Errorf("emulator %s: %w", s.unit, err)
	}
	var echoes []preset.Echo
	for _, a := range merged(arrivals) {
		level := preset.FromAmplitude(a.amplitude)
		if a.amplitude != 0 && level >= floor-floorRounding && a.at <= limit {
			echoes = append(echoes, preset.Echo{At: a.at, Level: level, Inverted: a.amplitude < 0})
		}
	}
	return echoes, nil
}

// merged is sorted by time, with what falls together added up.
func merged(arrivals []arrival) []arrival {
	slices.SortStableFunc(arrivals, func(a, b arrival) int { return cmp.Compare(a.at, b.at) })
	var sum []arrival
	for _, a := range arrivals {
		if last := len(sum) - 1; last >= 0 && a.at-sum[last].at <= together {
			sum[last].amplitude += a.amplitude
			continue
		}
		sum = append(sum, a)
	}
	return sum
}

// stepped makes arrivals of one amplitude for each step of time.
func stepped(amplitudes []float64, stepsPerMilli int) []arrival {
	var arrivals []arrival
	for i, a := range amplitudes {
		if a != 0 {
			arrivals = append(arrivals, arrival{preset.Millis(i) / preset.Millis(stepsPerMilli), a})
		}
	}
	return arrivals
}

// What sounds now, in short.

// Code is that of [Sound.Code] for what sounds now.
func (u *Unit) Code(name string) (int, error) { return u.now().Code(name) }

// Echoes are those of [Sound.Echoes] for what sounds now.
func (u *Unit) Echoes(floor preset.Decibels, limit preset.Millis) ([]preset.Echo, error) {
	return u.now().Echoes(floor, limit)
}

func (u *Unit) now() Sound {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.firmware.sound(EditBuffer)
}
