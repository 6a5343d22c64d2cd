package profiles_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/profiles"
	"echowright/profiles/emulator"
)

// What the loop gain says of a setting, the hardware does: below unity it plays and
// dies away, above it a loop of one tap howls. A sum of taps may cancel itself, so
// that of it only the first half holds.
func TestTheHardwareHowlsWhereTheLoopGainSaysSo(t *testing.T) {
	for _, name := range emulated() {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, name)
			random := rand.New(rand.NewPCG(41, 1))
			played, howled := 0, 0
			for range 60 {
				s := loudSetting(random, b.device)
				steps, err := b.device.SettingSteps(b.number, s)
				require.NoError(t, err)
				b.mustRun(steps...)
				require.Equal(t, s.Codes, b.codes(emulator.EditBuffer))
				gain := b.device.LoopGain(s)
				_, err = b.unit.Echoes(-60, 2000)
				switch {
				case gain < -0.01:
					played++
					require.NoError(t, err, "loop gain %v", gain)
				case gain > 0.01 && name != "open-parameter":
					howled++
					require.ErrorIs(t, err, emulator.ErrHowls, "loop gain %v", gain)
				}
			}
			require.Greater(t, played, 10)
			if name == "tap-loop" {
				require.Greater(t, howled, 5, "of it settings that howl can be had")
			}
		})
	}
}

// loudSetting is a random one with its loop gains and levels near their ends.
func loudSetting(random *rand.Rand, d *profiles.Device) profiles.Setting {
	s := randomSetting(random, d)
	for i, p := range d.Parameters {
		switch p.Role {
		case profiles.RoleFeedback:
			s.Codes[i] = p.Scale.High() - random.IntN((p.Scale.High()-p.Scale.Low)/4)
		case profiles.RoleLevel:
			s.Codes[i] = p.Scale.High() - random.IntN((p.Scale.High()-p.Scale.Low)/4)
		}
	}
	return s
}

// A single tap of the four alone in the loop is no sum: there it holds both ways.
func TestOneTapOfASumHowlsAtUnity(t *testing.T) {
	b := newBench(t, "open-parameter")
	s := b.device.Rest()
	s.Codes[b.device.Parameter("tap-1-time")] = 1000
	s.Codes[b.device.Parameter("tap-1-level")] = 1023
	for code, howls := range map[int]bool{998: false, 1000: true} { // ±0.001 in 1: the taps at rest add 3·10^(−102.3/20) = 0.00002
		s.Codes[b.device.Parameter("feedback")] = code
		steps, err := b.device.SettingSteps(b.number, s)
		require.NoError(t, err)
		b.mustRun(steps...)
		_, err = b.unit.Echoes(-60, 500)
		if howls {
			require.ErrorIs(t, err, emulator.ErrHowls)
			require.GreaterOrEqual(t, float64(b.device.LoopGain(s)), 0.0)
		} else {
			require.NoError(t, err)
			require.Less(t, float64(b.device.LoopGain(s)), 0.0)
		}
	}
}
