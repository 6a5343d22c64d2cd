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
// 0.001 % at the most: half a microsecond of the 60,000 of the fastest.
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

// tempoOf reads the data of a tempo event.
func tempoOf(data []byte) (Tempo, error) {
	if len(data) != 3 {
		return 0, fmt.Errorf("tempo: wanted 3 bytes, got %d", len(data))
	}
	t := Tempo(data[0])<<16 | Tempo(data[1])<<8 | Tempo(data[2])
	return t, t.check()
}

// event is the tempo event: FF 51 03 and the microseconds, high byte first.
func (t Tempo) event(at Tick) Event {
	return Event{at, []byte{isMeta, byte(metaTempo), byte(t >> 16), byte(t >> 8), byte(t)}}
}
