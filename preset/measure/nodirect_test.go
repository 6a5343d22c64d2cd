package measure

import (
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"
)

// wetOnly is a take of what the unit puts out, without the direct sound.
func wetOnly(seed int64, u unit, r recording) Take {
	_, wet, _ := record(rand.New(rand.NewSource(seed)), shortNote, u, r)
	return Take{Rate: quickRate, Samples: wet}
}

// Heads at 101.3, 187.7 and 286.2 ms stand 86.4 and 184.9 ms after the first.
func TestEchoesWithoutDirectSoundTellTheirDistances(t *testing.T) {
	bare, dull, turning := threeHeads, threeHeads, threeHeads
	bare.feeds, bare.tone = nil, nil
	dull.feeds = nil
	turning.tone = nil
	for _, c := range []struct {
		name string
		unit unit
	}{{"no tone, no loop", bare}, {"a tone, no loop", dull}, {"no tone, a loop", turning}, {"a tone and a loop", threeHeads}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := Heads(wetOnly(50, c.unit, quickTake), Options{Heads: []int{1, 2, 3}})
			detail := requireRefusal(t, err, NoDirect)
			require.Contains(t, detail, "86.4 ms (6.0 dB")
			require.Regexp(t, `184\.9 ms \((2\.9|3\.0) dB`, detail, "a tenth more where a tone in the loop alone is in the way")
			require.Contains(t, detail, "first")
		})
	}
}

func TestEchoesWithoutDirectSoundAreSuspectedWhereNoHeadsAreNamed(t *testing.T) {
	t.Parallel()
	u := threeHeads
	u.feeds = nil
	r, err := Heads(wetOnly(51, u, quickTake), Options{})
	require.NoError(t, err)
	require.Contains(t, said(r.Warnings), "to what seems to be the direct sound and is as bright")
}

// A direct sound that was recorded is not called an echo: of a dull unit, of a
// bright one with a loop, and of a bright one all of whose heads were named.
func TestDirectSoundIsNotDoubted(t *testing.T) {
	bright, bare := threeHeads, threeHeads
	bright.tone = nil
	bare.tone, bare.feeds = nil, nil
	for _, c := range []struct {
		name  string
		unit  unit
		heads []int
	}{
		{"dull", threeHeads, []int{1, 2, 3}},
		{"dull, no heads named", threeHeads, nil},
		{"bright, with a loop", bright, []int{1, 2, 3}},
		{"bright, with a loop, no heads named", bright, nil},
		{"bright, without a loop", bare, []int{1, 2, 3}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r, err := Heads(recorded(52, c.unit, quickTake), Options{Heads: c.heads})
			require.NoError(t, err)
			require.NotContains(t, said(r.Warnings), "direct sound")
		})
	}
}
