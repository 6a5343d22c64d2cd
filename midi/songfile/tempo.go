package songfile

import (
	"fmt"
	"math"

	"echowright/preset"
)

// A Tempo is how many microseconds a quarter note lasts, 1 to MaxTempo, as a file
// states it.
type Tempo int

// MaxTempo is the slowest tempo that the three bytes of a tempo event hold:
// 3.5763 quarters a minute.
const MaxTempo Tempo = 1<<24 - 1

// defaultTempo holds until a file states another: 120 quarters a minute.
const defaultTempo Tempo = 500_000

const microsecondsPerMinute = 60_000_000

// TempoOf is the tempo in whole microseconds that is nearest to b, and so off by
// 0.001 % at the most (half a microsecond of a sixteenth of a second).
func TempoOf(b preset.BPM) (Tempo, error) {
	if err := preset.CheckTempo(b); err != nil {
		return 0, err
	}
	return Tempo(math.Round(microsecondsPerMinute / float64(b))), nil
}

// BPM is the tempo in quarter notes a minute.
func (t Tempo) BPM() preset.BPM { return preset.BPM(microsecondsPerMinute / float64(t)) }

func (t Tempo) check() error {
	if t < 1 || t > MaxTempo {
		return fmt.Errorf("tempo of %d µs a quarter note: wanted 1 to %d", t, MaxTempo)
	}
	return nil
}

// A TempoChange is a tempo that holds from a tick on.
type TempoChange struct {
	At    Tick
	Tempo Tempo
}
