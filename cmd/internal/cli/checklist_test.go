package cli

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
)

var noSound = preset.Decibels(math.Inf(-1))

func TestEchoesToListenFor(t *testing.T) {
	for _, c := range []struct {
		name   string
		echoes []preset.Echo
		direct preset.Decibels
		want   []string
	}{
		{"none", nil, 0, []string{"then: no echo"}},
		{"beside the direct sound, the polarity that the ear can tell",
			[]preset.Echo{{At: 200, Level: -3}, {At: 400.04, Level: 0, Inverted: true}, {At: 500, Level: 2}}, 0, []string{
				"after 200.0 ms: an echo, 3.0 dB below the direct sound",
				"after 400.0 ms: an echo, as loud as the direct sound, inverted",
				"after 500.0 ms: an echo, 2.0 dB above the direct sound",
			}},
		{"without a direct sound all the same polarity is none",
			[]preset.Echo{{At: 200, Level: -6, Inverted: true}, {At: 400, Level: -2, Inverted: true}}, noSound, []string{
				"after 200.0 ms: an echo, 4.0 dB below the loudest echo",
				"after 400.0 ms: an echo, the loudest echo",
			}},
		{"two that are heard as one", []preset.Echo{{At: 399.9, Level: -9}, {At: 400, Level: -4}, {At: 402.1, Level: -5}}, 0, []string{
			"after 400.0 ms: an echo, 4.0 dB below the direct sound",
			"after 402.1 ms: an echo, 5.0 dB below the direct sound",
		}},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, echoLines(c.echoes, c.direct)) })
	}
}

func TestTheLoudestEightInTheOrderInWhichTheyCome(t *testing.T) {
	var echoes []preset.Echo
	for n := range 12 {
		echoes = append(echoes, preset.Echo{At: preset.Millis(100 * (n + 1)), Level: preset.Decibels(n - 20)}) // each louder than the one before
	}
	got := echoLines(echoes, 0)
	require.Len(t, got, mostListened+1)
	require.Equal(t, "after 500.0 ms: an echo, 16.0 dB below the direct sound", got[0])
	require.Equal(t, "after 1200.0 ms: an echo, 9.0 dB below the direct sound", got[mostListened-1])
	require.Equal(t, "between and after them: 4 more echoes, no louder than those", got[mostListened])
}

func TestHowOftenItComesAgain(t *testing.T) {
	for gain, want := range map[preset.Decibels]string{
		noSound: "then: no repeats; nothing feeds back",
		-6:      "then: all of it again, each time at least 6.0 dB softer; 10 times at most until it is 60 dB down",
		-7:      "then: all of it again, each time at least 7.0 dB softer; 9 times at most until it is 60 dB down", // 8 times are 56 dB
		-60:     "then: all of it again, each time at least 60.0 dB softer; 1 time at most until it is 60 dB down",
		0:       "then: all of it again and again, and it need not become softer",
		2:       "then: all of it again and again, and it need not become softer",
	} {
		require.Equal(t, want, repeatLine(gain))
	}
}

// howling is a setting of the tap-loop unit whose feedback amount is 127, an
// amplitude of 1.10 (tap-loop.md).
func howling(t *testing.T) (*profiles.Device, profiles.Setting) {
	t.Helper()
	d, err := profiles.Shipped("tap-loop")
	require.NoError(t, err)
	s := d.Rest()
	for i, p := range d.Parameters {
		switch p.Role {
		case profiles.RoleFeedback:
			s.Codes[i] = 127
		case profiles.RoleTime:
			s.Codes[i] = 800
		}
	}
	require.InDelta(t, 20*math.Log10(1.10), float64(d.LoopGain(s)), 1e-9)
	return d, s
}

func TestTheChecklistBeginsWithWhatIsLoud(t *testing.T) {
	d, loud := howling(t)
	got := checklist(d, d.Manners.FirstUnit, 3, d.Rest())
	require.Equal(t, "turn your monitors down: how loud the slot is nobody has heard yet", got[0])
	// Program change on channel 1: C0, then the slot's number (tap-loop.md).
	require.Contains(t, got[1], "call up another slot, then slot 3 again (by message: C0 03)")
	require.Equal(t, "play one short note, damp it, and listen", got[2])
	require.Regexp(t, `^at once: `, got[3])
	require.Equal(t, "then: no repeats; nothing feeds back", got[len(got)-1])

	got = checklist(d, d.Manners.FirstUnit, 3, loud)
	require.Contains(t, got[0], "caution: the loop's gain is +0.8 dB a turn")
}
