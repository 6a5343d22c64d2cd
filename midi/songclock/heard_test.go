package songclock

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// What can just be noticed is 6 ms up to 240 ms and 2.5 % above (Friberg &
// Sundberg, J. Acoust. Soc. Am. 98(5), 1995); a third of it is 2 ms, or 0.833 %.
func TestWhatIsToldAgain(t *testing.T) {
	for _, c := range []struct {
		sent, wanted preset.Millis
		again        bool
	}{
		{100, 100, false},
		{100, 101.9, false}, {100, 98.1, false},
		{100, 102.1, true}, {100, 97.9, true},
		{240, 241.9, false}, {240, 242.1, true},
		{480, 483.9, false}, {480, 484.1, true},
		{480, 476.1, false}, {480, 476, true}, // a third of 2.5 % of the shorter, 476, is 3.967 ms
		{0, 375, true}, // nothing was sent yet
	} {
		require.Equal(t, c.again, Heard(c.sent, c.wanted), "%v, then %v", c.sent, c.wanted)
		require.Equal(t, c.again, Heard(c.wanted, c.sent), "and back")
	}
}

func TestATempoThatWaversMovesNothing(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 20))
	for range 200 {
		// A dotted eighth at any tempo, which wavers by ±0.4 %, four times as much as a
		// steady clock's: it may lie beyond the threshold once, from where it was before; after that never again.
		right := 45_000 / (40 + 168*random.Float64())
		sent, times := preset.Millis(right*(1+0.05*random.Float64())), 0
		for range 1000 {
			wanted := preset.Millis(right * (1 + 0.004*(2*random.Float64()-1)))
			if Heard(sent, wanted) {
				sent = wanted
				times++
			}
		}
		require.LessOrEqual(t, times, 1)
	}
}

// The whole of it: a clock with 2 ms of jitter, a ramp, a delay told to a device
// whenever it would be heard. What the device has is never further from the song
// than can be noticed.
func TestADelayMovesAlongARamp(t *testing.T) {
	for _, bars := range []float64{4, 8, 16} {
		for _, sigma := range []float64{0, 2} {
			t.Run(fmt.Sprintf("100 to 140 BPM in %v bars, σ %v ms", bars, sigma), func(t *testing.T) {
				r := ramp{100, 140, 4 * bars}
				dotted := preset.Note{Denominator: 8, Dots: 1}
				var f Follower
				s := newSender(&f, gaussian(rand.New(rand.NewPCG(21, 22)), sigma))
				s.clocks(16*PerBeat, r.from)
				began, times, worst := s.at, 0, 0.0
				sent := dotted.Length(preset.BPM(r.from))
				for n := 1; n < int(r.beats+8)*PerBeat; n++ {
					beat := float64(n) / PerBeat
					s.at = began + r.at(beat)
					s.send()
					if wanted := dotted.Length(f.State().Tempo); Heard(sent, wanted) {
						sent = wanted
						times++
					}
					right := dotted.Length(preset.BPM(r.tempo(beat)))
					worst = max(worst, math.Abs(float64(sent-right))/float64(preset.TimingJND(right)))
				}
				t.Logf("told %d times; at worst %.2f of what can be noticed", times, worst)
				limit := 1.0
				if bars == 4 && sigma == 2 { // 2.5 % a beat: a line through two beats is late by as much already
					limit = 1.35
				}
				require.Less(t, worst, limit)
				// From 450 to 321.4 ms are ln(1.4)/ln(1.00833) = 40.5 steps of a third of what
				// can be noticed, and 13.6 of all of it: no step is heard by itself.
				require.LessOrEqual(t, times, 45, "a few more where it wavers")
				require.Greater(t, times, 13)
			})
		}
	}
}
