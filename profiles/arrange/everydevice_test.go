package arrange

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// The unit of the trade's practice and twenty others are planned for every device
// there is. Each emulated unit, fed the bytes that set its parameters, must make
// the echoes that were planned; the emulator never looks at the profile.
func TestEveryEmulatorMakesTheEchoesThatWerePlanned(t *testing.T) {
	rng := rand.New(rand.NewPCG(20, 26))
	units := []preset.Unit{tradeUnit()}
	for range 20 {
		units = append(units, randomUnit(rng))
	}
	for _, name := range profiles.Names() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			d, err := profiles.Shipped(name)
			require.NoError(t, err)
			for _, u := range units {
				r := arranged(t, pattern(t, u), d)
				require.NoError(t, d.Check(r.Setting))
				if slices.Contains(emulator.Names(), name) {
					requirePlayed(t, d, r)
				}
			}
		})
	}
}

// requirePlayed sets the emulated unit parameter by parameter, a good while before
// each message, and listens. Both trains end at the floor, where
// either may have an echo that the other has not.
func requirePlayed(t *testing.T, d *profiles.Device, r Result) {
	t.Helper()
	const floor = preset.Decibels(-54)
	unit, err := emulator.New(d.Name, emulator.Options{})
	require.NoError(t, err)
	now := time.Unix(0, 0)
	steps, err := d.SettingSteps(d.Manners.FirstUnit, r.Setting)
	require.NoError(t, err)
	for _, s := range steps {
		for _, b := range s.Send {
			if b >= 0x80 && b != 0xF7 {
				now = now.Add(100 * time.Millisecond)
				unit.Run(now)
			}
			now = now.Add(320 * time.Microsecond) // on the wire (MIDI 1.0, document 4.2.1, page 1)
			unit.Arrive(now, []byte{b})
		}
	}
	now = now.Add(100 * time.Millisecond)
	unit.Run(now)
	heard, err := unit.Echoes(floor+r.Shift-6, preset.TrainLimit)
	require.NoError(t, err)
	planned := []preset.Echo{}
	for _, e := range r.Echoes {
		if e.GotAt != nil {
			planned = append(planned, preset.Echo{At: *e.GotAt, Level: *e.GotLevel + r.Shift})
		}
	}
	for _, e := range r.Extra {
		planned = append(planned, preset.Echo{At: e.At, Level: e.Level + r.Shift})
	}
	requireSame(t, planned, heard, floor+r.Shift, "planned, but not heard")
	requireSame(t, heard, planned, floor+r.Shift, "heard, but not planned")
}

// requireSame: each echo of a above the floor is one of b, to 0.01 ms and 0.02 dB:
// far below any step, and above the last digits of two different reckonings.
func requireSame(t *testing.T, a, b []preset.Echo, floor preset.Decibels, what string) {
	t.Helper()
	for _, e := range a {
		if e.Level < floor {
			continue
		}
		i := slices.IndexFunc(b, func(o preset.Echo) bool {
			return max(o.At-e.At, e.At-o.At) < 0.01 && max(o.Level-e.Level, e.Level-o.Level) < 0.02
		})
		require.GreaterOrEqual(t, i, 0, "%s: %v, %v; there are %v", what, e.At, e.Level, b)
	}
}
