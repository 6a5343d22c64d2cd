package preset

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// taps are times in milliseconds, as offsets from the first.
func taps(ms ...float64) []time.Duration {
	at := make([]time.Duration, len(ms))
	for i, v := range ms {
		at[i] = time.Duration(v * float64(time.Millisecond))
	}
	return at
}

func TestTappedTempi(t *testing.T) {
	for _, c := range []struct {
		name             string
		at               []time.Duration
		tempo            BPM
		spread           float64
		counted, dropped int
	}{
		{"even", taps(0, 500, 1000, 1500, 2000), 120, 0, 4, 0},
		// Intervals 490, 510, 495, 505: median 500; deviation √((100+100+25+25)/3) = 9.1287.
		{"a hand", taps(0, 490, 1000, 1495, 2000), 120, 9.1287, 4, 0},
		{"a beat left out", taps(0, 500, 1000, 2000, 2500), 120, 0, 3, 1},
		{"a key that bounced", taps(0, 500, 520, 1020, 1520, 2020), 120, 0, 4, 1},
		{"an odd count", taps(0, 400, 820, 1220), 150, 11.547, 3, 0}, // intervals 400, 420, 400
		{"slow", taps(0, 3000, 6000, 9000), 20, 0, 3, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := TapTempo(c.at)
			require.NoError(t, err)
			require.InDelta(t, float64(c.tempo), float64(got.Tempo), 1e-9)
			require.InDelta(t, 60_000/float64(c.tempo), float64(got.Beat), 1e-9)
			require.InDelta(t, c.spread, float64(got.Spread), 1e-3)
			require.Equal(t, c.counted, got.Counted)
			require.Equal(t, c.dropped, got.Dropped)
		})
	}
}

func TestTapsThatTellNoTempo(t *testing.T) {
	for name, c := range map[string]struct {
		at   []time.Duration
		says string
	}{
		"none":            {nil, "0 taps: tap at least 4 times"},
		"three":           {taps(0, 500, 1000), "3 taps: tap at least 4 times"},
		"no beat in them": {taps(0, 100, 900, 1000, 2500), "too uneven"},
		"all at once":     {taps(0, 0, 0, 0, 0), "from 10 to 1000"},
		"far too slow":    {taps(0, 7000, 14000, 21000), "from 10 to 1000"},
		"backwards":       {taps(3000, 2000, 1000, 0), "too uneven"},
	} {
		_, err := TapTempo(c.at)
		require.ErrorContains(t, err, c.says, name)
	}
}
