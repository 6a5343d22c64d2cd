package picture

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// aTake is half a second of quiet and half a second of sound at −20 dB (RMS), with
// what is left of it at the given level.
func aTake(left preset.Decibels) Remainder {
	r := Remainder{Take: Take{Rate: 8000, Samples: make([]float64, 8000), Onset: 500}, Step: 10, Noise: -70, Notes: []preset.Millis{500}}
	for i := 4000; i < 8000; i++ {
		r.Take.Samples[i] = 0.1 * float64(1-2*(i%2))
	}
	for i := range 100 {
		if i < 50 {
			r.Left = append(r.Left, preset.Decibels(math.NaN()))
			continue
		}
		r.Left = append(r.Left, left)
	}
	return r
}

func TestWhatIsLeftIsToldInASentence(t *testing.T) {
	for _, c := range []struct {
		left  preset.Decibels
		note  preset.Millis
		words []string
	}{
		{-68, 0, []string{"What the unit does not explain lies 48 dB below the take, no louder than the take's own noise: everything is explained."}},
		{-40, 0, []string{"lies 20 dB below the take and 30 dB above its noise: something sounds there that the measured unit does not make."}},
		{-10, 0, []string{"lies 10 dB above the take"}},
		{-68, 200, []string{"After the note itself, which lasts 200 ms and is no echo, what the unit does not explain lies 48 dB below the take"}},
	} {
		r := aTake(c.left)
		r.Note = c.note
		text := page(t, r).words()
		for _, w := range c.words {
			require.Contains(t, text, w)
		}
	}
}

func TestNothingWorkedOutIsSaid(t *testing.T) {
	r := aTake(-60)
	for i := range r.Left {
		r.Left[i] = preset.Decibels(math.NaN())
	}
	require.Contains(t, page(t, r).words(), "Nothing was worked out here")
}

func TestGapsStayGaps(t *testing.T) {
	r := aTake(-60)
	for i := 70; i < 75; i++ {
		r.Left[i] = preset.Decibels(math.NaN())
	}
	left := page(t, r).find("left")
	require.Len(t, left, 1)
	require.Len(t, left[0].tags("path"), 2, "before the gap and after it")
	speeds := page(t, Motion{Speed: []float64{0.1, 0.2, math.NaN(), 0.1, 0.1, math.NaN(), 0.3, math.NaN()}, Step: 10}).find("speed")
	require.Len(t, speeds[0].tags("line"), 3, "two runs of two values, and a dot")
}

func TestOneNoteOfSeveralIsShownFromItsBeginning(t *testing.T) {
	r := aTake(-60)
	r.Notes = []preset.Millis{100, 500}
	require.Equal(t, []int{1}, r.told())
	require.Equal(t, preset.Millis(500), r.from())
	text := page(t, r).words()
	require.Contains(t, text, "Worked out for note 2 of 2.")
	require.Contains(t, text, "time after the note in milliseconds")
}

func TestTheTakesLevelIsItsOwn(t *testing.T) {
	levels := aTake(-60).sounds()
	require.InDelta(t, -20, levels[60], 1e-9)
	require.Less(t, levels[10], -150.0)
}
