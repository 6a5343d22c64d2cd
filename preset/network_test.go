package preset

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTrainOfThreeHeadsWithALoop(t *testing.T) {
	p, err := saltmarsh().Pattern()
	require.NoError(t, err)
	echoes, err := p.Train(-60, 1250)
	require.NoError(t, err)
	require.Len(t, echoes, 9)
	for i, e := range echoes {
		turn, head := i/3, i%3
		require.InDelta(t, []float64{121, 263, 405}[head]+405*float64(turn), float64(e.At), 1e-9)
		require.InDelta(t, []float64{-7, 0, -2}[head]-6.9*float64(turn), float64(e.Level), 1e-9)
		require.Equal(t, turn, e.Turn)
		require.Equal(t, []int{2, 4, 6}[head], e.Head)
	}
}

// A loop of gain g and time τ has its repeats at multiples of τ; 60/|g| of them
// lie above −60 dB (handbook arithmetic of feedback echo).
func TestHowLongALoopRings(t *testing.T) {
	for _, c := range []struct {
		gain    Decibels
		repeats int
	}{{-3, 20}, {-6, 10}, {-20, 3}} {
		p := Pattern{Taps: []Tap{{Delay: 30}}, Returns: []Return{{Delay: 30, Gain: c.gain}}}
		echoes, err := p.Train(-60, 4000)
		require.NoError(t, err)
		require.Len(t, echoes, c.repeats+1, "the first echo and its repeats")
		require.InDelta(t, -60, float64(echoes[c.repeats].Level), 1e-9)
	}
}

// The same train by brute force: the impulse response of the loop written out
// sample by sample, on delays that are whole samples.
func TestTrainEqualsTheImpulseResponse(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	for range 50 {
		p := Pattern{}
		for range 1 + random.IntN(4) {
			p.Taps = append(p.Taps, Tap{Delay: Millis(5 + random.IntN(60)), Level: Decibels(-20 * random.Float64()), Inverted: random.IntN(2) == 0})
		}
		for range random.IntN(4) {
			p.Returns = append(p.Returns, Return{Delay: Millis(5 + random.IntN(60)), Gain: Decibels(-10 - 10*random.Float64()), Inverted: random.IntN(2) == 0})
		}
		const length = 300
		memory, out := make([]float64, length), make([]float64, length)
		memory[0] = 1
		for n := range length {
			for _, r := range p.Returns {
				if n >= int(r.Delay) {
					memory[n] += signed(r.Gain.Amplitude(), r.Inverted) * memory[n-int(r.Delay)]
				}
			}
			for _, tap := range p.Taps {
				if n >= int(tap.Delay) {
					out[n] += signed(tap.Level.Amplitude(), tap.Inverted) * memory[n-int(tap.Delay)]
				}
			}
		}
		echoes, err := p.Train(-60, length-1)
		require.NoError(t, err)
		got := make([]float64, length)
		for _, e := range echoes {
			got[int(math.Round(float64(e.At)))] = signed(e.Level.Amplitude(), e.Inverted)
		}
		for n := range out {
			// Echoes below the floor (10^(−60/20)) are not listed, and paths 30 dB
			// below it not followed.
			require.InDelta(t, out[n], got[n], 1.05e-3, "sample %d of %+v", n, p)
		}
	}
}

func TestEchoesThatFallTogetherAreAdded(t *testing.T) {
	p := Pattern{Taps: []Tap{{Delay: 100, Level: -6.0206}, {Delay: 100, Level: -6.0206}, {Delay: 200}, {Delay: 200, Inverted: true}}}
	echoes, err := p.Train(-60, 4000)
	require.NoError(t, err)
	require.Len(t, echoes, 1, "the two at 200 ms cancel")
	require.InDelta(t, 0, float64(echoes[0].Level), 1e-4, "half and half is one")
}

func TestAnInvertedLoopAlternates(t *testing.T) {
	p := Pattern{Taps: []Tap{{Delay: 10}}, Returns: []Return{{Delay: 10, Gain: -6, Inverted: true}}}
	echoes, err := p.Train(-20, 4000)
	require.NoError(t, err)
	for n, e := range echoes {
		require.Equal(t, n%2 == 1, e.Inverted)
	}
}

func TestNetworksThatCannotBe(t *testing.T) {
	nan := math.NaN()
	for name, n := range map[string]Network{
		"a node that is not there":   {Nodes: 1, Paths: []Path{{From: 1}}},
		"a node below the output":    {Nodes: 1, Paths: []Path{{To: -2}}},
		"a delay into the past":      {Nodes: 1, Paths: []Path{{To: Output, Delay: -1}}},
		"a delay that is no number":  {Nodes: 1, Paths: []Path{{To: Output, Delay: Millis(nan)}}},
		"a gain that is no number":   {Nodes: 1, Paths: []Path{{To: Output, Gain: nan}}},
		"a gain that has no measure": {Nodes: 1, Paths: []Path{{To: Output, Gain: math.Inf(1)}}},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := n.Train(-60, 4000)
			require.Error(t, err)
		})
	}
}

func TestALoopWithoutLossOrDelayEnds(t *testing.T) {
	n := Network{Nodes: 1, Paths: []Path{{Gain: 1}, {To: Output, Gain: 1}}}
	_, err := n.Train(-60, 4000)
	require.ErrorIs(t, err, ErrTooDense)
	dense := Pattern{Taps: []Tap{{Delay: 1}}}
	for i := range 12 {
		dense.Returns = append(dense.Returns, Return{Delay: 1 + Millis(i)*0.013719, Gain: -1})
	}
	_, err = dense.Train(-60, 4000)
	require.ErrorIs(t, err, ErrTooDense)
}

func TestPatternOfSomeHeads(t *testing.T) {
	u := saltmarsh()
	p, err := u.Pattern(4, 2)
	require.NoError(t, err)
	require.Len(t, p.Taps, 2)
	require.Equal(t, 2, p.Taps[0].Head, "sorted by delay")
	require.Equal(t, Millis(405), p.Returns[0].Delay, "the loop still comes from head 6, which is not heard")
	require.InDelta(t, -3, float64(*p.EchoToDirect), 0)
	_, err = u.Pattern(3)
	require.ErrorContains(t, err, "has no head 3: it has [2 4 6]")
	_, err = u.Pattern(2, 2)
	require.ErrorContains(t, err, "twice")
}

func TestSeveralHeadsInTheLoop(t *testing.T) {
	u := saltmarsh()
	u.Feedback.Heads = []int{2, 6} // −7 and −2 dB: head 6 has the loop's gain, head 2 lies 5 dB below it
	p, err := u.Pattern()
	require.NoError(t, err)
	require.InDelta(t, -11.9, float64(p.Returns[0].Gain), 1e-9)
	require.InDelta(t, -6.9, float64(p.Returns[1].Gain), 1e-9)
}

func BenchmarkTrain(b *testing.B) {
	p, err := saltmarsh().Pattern()
	require.NoError(b, err)
	for b.Loop() {
		if _, err := p.Train(TrainFloor, TrainLimit); err != nil {
			b.Fatal(err)
		}
	}
}
