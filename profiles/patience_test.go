package profiles_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// The manuals of the units that send nothing: a write takes up to 500 ms (tap-loop,
// which ignores input meanwhile) and up to 200 ms (twin); between messages they want
// 1 ms (over USB) and 2 ms. Nothing is said of the time that loading takes.
func TestStoringIsWaitedForInSilence(t *testing.T) {
	for _, c := range []struct {
		device      string
		store, load time.Duration
	}{
		{"tap-loop", 501 * time.Millisecond, time.Millisecond},
		{"twin", 202 * time.Millisecond, 2 * time.Millisecond},
	} {
		d, err := profiles.Shipped(c.device)
		require.NoError(t, err)
		store, err := d.StoreStep(1, 7)
		require.NoError(t, err)
		require.Equal(t, c.store, store.Gap, c.device)
		load, err := d.LoadStep(1, 7)
		require.NoError(t, err)
		require.Equal(t, c.load, load.Gap, c.device)
		steps, err := d.PushSteps(1, 7, d.Rest())
		require.NoError(t, err)
		require.Equal(t, store, steps[len(steps)-1], "the store comes last, so that whoever comes next waits")
	}
}

// The firmware at its slowest takes each of two pushes, one at the heels of the
// other; told in haste it loses the second.
func TestAPushAtTheHeelsOfAnotherArrives(t *testing.T) {
	for name, slowest := range map[string]time.Duration{"tap-loop": 500 * time.Millisecond, "twin": 200 * time.Millisecond} {
		for _, hasty := range []bool{false, true} {
			b := newBench(t, name)
			var err error
			b.unit, err = emulator.New(name, emulator.Options{Channel: 2, USB: true, FlashWrite: slowest})
			require.NoError(t, err)
			random := rand.New(rand.NewPCG(61, 1))
			first, second := randomSetting(random, b.device), randomSetting(random, b.device)
			b.mustRun(pushed(t, b, 3, first, hasty)...)
			b.mustRun(pushed(t, b, 4, second, false)...)
			require.Equal(t, first.Codes, b.codes(3), name)
			if hasty {
				require.NotEqual(t, second.Codes, b.codes(4), "%s was still writing", name)
				continue
			}
			require.Equal(t, second.Codes, b.codes(4), name)
		}
	}
}

// pushed is the steps of a push; a hasty one does not wait for the store.
func pushed(t *testing.T, b *bench, slot int, s profiles.Setting, hasty bool) []midi.Step {
	t.Helper()
	steps, err := b.device.PushSteps(b.number, slot, s)
	require.NoError(t, err)
	if hasty {
		steps[len(steps)-1].Gap = b.device.Manners.Gap
	}
	return steps
}
