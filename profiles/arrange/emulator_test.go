package arrange

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// Hardware is the emulated unit, its edit buffer set parameter by parameter, with
// messages made by hand from the manual: the device profile's codec has no part in it.
type hardware struct {
	t    *testing.T
	unit *emulator.Unit
	now  time.Time
}

// set sends F0 7D 05 00 10 address(2) value(2) sum F7, high 7 bits first, the sum
// of all from the command on 0 in its low 7 bits, and wants it acknowledged.
func (b *hardware) set(address, value int) {
	body := []byte{0x10, byte(address >> 7), byte(address & 0x7F), byte(value >> 7), byte(value & 0x7F)}
	sum := 0
	for _, c := range body {
		sum += int(c)
	}
	m := append([]byte{0xF0, 0x7D, 0x05, 0x00}, body...)
	m = append(m, byte(-sum&0x7F), 0xF7)
	b.unit.Arrive(b.now, m)
	b.now = b.now.Add(20 * time.Millisecond)
	answers := b.unit.Run(b.now)
	require.Len(b.t, answers, 1)
	require.Equal(b.t, byte(0x7F), answers[0][4], "acknowledged: % X", answers[0])
}

func (b *hardware) load(s profiles.Setting) {
	// Seven parameters for each line, at n·10h on, then dry level, drive, wobble rate
	// and depth at 60h on. Sources last, from a unit whose lines all hear the input:
	// so no step on the way runs in a circle.
	const perLine, source = 7, 4
	for n := range 5 {
		b.set(n*0x10+source, 0)
	}
	for i, code := range s.Codes[:5*perLine] {
		if i%perLine != source {
			b.set(i/perLine*0x10+i%perLine, code)
		}
	}
	for i, code := range s.Codes[5*perLine:] {
		b.set(0x60+i, code)
	}
	for n := range 5 {
		b.set(n*0x10+source, s.Codes[n*perLine+source])
	}
}

// The emulator is written from the manual and never looks at the profile. What it
// makes of the codes must be what was planned: times to a hundredth of the step's
// tenth of a millisecond, levels to 0.01 dB, which is far below a step and far
// above the last digits of either arithmetic.
func TestTheEmulatorMakesTheEchoesThatWerePlanned(t *testing.T) {
	d := fiveLine(t)
	rng := rand.New(rand.NewPCG(5, 5))
	units := []preset.Unit{tradeUnit()}
	for range 20 {
		units = append(units, randomUnit(rng))
	}
	for _, u := range units {
		r := arranged(t, pattern(t, u), d)
		b := &hardware{t: t, unit: newEmulator(t), now: time.Unix(0, 0)}
		b.load(r.Setting)
		heard, err := b.unit.Echoes(preset.TrainFloor+r.Shift, preset.TrainLimit)
		require.NoError(t, err)
		require.NotEmpty(t, heard)
		requireHeard(t, r, heard)
		sound, err := b.unit.Sound(emulator.EditBuffer)
		require.NoError(t, err)
		require.InDelta(t, float64(*r.Direct.Got), float64(r.Shift-preset.FromAmplitude(sound.Dry())), 0.01)
	}
}

func newEmulator(t *testing.T) *emulator.Unit {
	e, err := emulator.New("five-line", emulator.Options{})
	require.NoError(t, err)
	return e
}

// requireHeard: each planned echo above −58 dB is heard, and each echo heard above
// that was planned. (Nearer to the floor the two floors, one 60 dB below the
// pattern's loudest head and one below the device's loudest echo, may differ.)
func requireHeard(t *testing.T, r Result, heard []preset.Echo) {
	t.Helper()
	const floor = preset.Decibels(-54)
	planned := map[int]preset.Decibels{}
	for _, e := range r.Echoes {
		if e.GotAt != nil {
			planned[tenths(*e.GotAt)] = *e.GotLevel
		}
	}
	for _, e := range r.Extra {
		planned[tenths(e.At)] = e.Level
	}
	for _, e := range heard {
		level := e.Level - r.Shift
		got, ok := planned[tenths(e.At)]
		if level > floor {
			require.True(t, ok, "heard at %v, %v: not planned", e.At, level)
			require.InDelta(t, float64(got), float64(level), 0.01)
		}
		delete(planned, tenths(e.At))
	}
	for at, level := range planned {
		require.Less(t, level, floor, "planned at %d tenths of a ms: not heard", at)
	}
}

func tenths(at preset.Millis) int { return int(math.Round(float64(at) * 10)) }
