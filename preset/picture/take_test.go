package picture

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func TestTheWaveformShowsBothSidesOfTheSound(t *testing.T) {
	low, high := someTake().Envelope(0, 200, 200) // columns of 1 ms, 8 samples
	require.Equal(t, 0.8, high[0])
	require.Equal(t, -0.36, low[121])
	for i := range high {
		if i != 0 {
			require.Zerof(t, high[i], "column %d", i)
		}
	}
}

func TestEnvelopeOfOddTakes(t *testing.T) {
	for name, take := range map[string]Take{
		"no samples":                {Rate: 48000},
		"no rate":                   {Samples: []float64{1, 2}},
		"a note after the end":      {Rate: 8000, Samples: make([]float64, 10), Onset: 5000},
		"samples that are no sound": {Rate: 8000, Samples: []float64{math.NaN(), math.NaN(), 0.5}},
		"an infinite onset":         {Rate: 8000, Samples: make([]float64, 10), Onset: preset.Millis(math.Inf(1))},
	} {
		t.Run(name, func(t *testing.T) {
			from, to := take.Span()
			low, high := take.Envelope(from, to, 50)
			require.Len(t, low, 50)
			for i := range low {
				require.False(t, math.IsNaN(low[i]) || math.IsNaN(high[i]))
			}
			page(t, Waveform{Take: take}, Levels{take})
		})
	}
}

func TestTheSpanHoldsEveryMark(t *testing.T) {
	for _, take := range []Take{
		{Rate: 8000, Samples: make([]float64, 8000)},
		{Rate: 8000, Samples: make([]float64, 8000), Marks: []Mark{{At: 121}, {At: 405}}},
		{Rate: 8000, Samples: make([]float64, 80), Marks: []Mark{{At: 4000}}},
		{},
	} {
		from, to := take.Span()
		require.Negative(t, float64(from), "a little before the note")
		require.Greater(t, to, from)
		for _, m := range take.Marks {
			require.Less(t, m.At, to)
		}
	}
}

func TestLongTimesAreToldInSeconds(t *testing.T) {
	x, at := clock("the note", -100, 5000)
	require.Contains(t, x.name, "milliseconds")
	require.Equal(t, 250.0, at(250))
	x, at = clock("the first note", -100, 9000)
	require.Equal(t, "time after the first note in seconds", x.name)
	require.Equal(t, 0.25, at(250))
}

// The loudest peak may be the direct sound or any of the echoes.
func TestTheDirectSoundOfAClickIsFound(t *testing.T) {
	for name, c := range map[string]struct {
		direct float64
		echoes [2]float64
	}{
		"direct sound the loudest": {1, [2]float64{0.5, 0.3}},
		"first echo the loudest":   {0.5, [2]float64{1, 0.7}},
		"last echo the loudest":    {0.3, [2]float64{0.5, -1}},
	} {
		t.Run(name, func(t *testing.T) {
			take := Take{Rate: 8000, Samples: make([]float64, 16000)}
			for _, click := range []int{800, 8800} {
				take.Samples[click] = c.direct
				take.Samples[click+960] = c.echoes[0]  // 120 ms
				take.Samples[click+2000] = c.echoes[1] // 250 ms
			}
			onset := take.Struck([]preset.Millis{120, 250}).Onset
			require.InDelta(t, 100, float64(onset), 1e-9)
		})
	}
	require.Zero(t, Take{Rate: 8000}.Struck(nil).Onset)
}
