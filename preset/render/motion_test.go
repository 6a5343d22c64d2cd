package render

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/measure/steadytone"
)

// What the carrier has come between writing and reading is the head's way, at any
// moment: W(t) − W(t − τ) = d, put in and checked between the knots too.
func TestADelayIsTheTimeInWhichTheCarrierComesThatFar(t *testing.T) {
	for _, m := range []preset.Motion{
		{WowPercent: 0.2, WowHz: 0.9, FlutterPercent: 0.1, FlutterHz: 8},
		{WowPercent: 3, WowHz: 2, FlutterPercent: 1, FlutterHz: 50},
		{WowPercent: 20, WowHz: 5},
	} {
		c := newCarrier(&m, rate, rand.New(rand.NewPCG(1, 1)))
		for _, d := range []float64{500.3, 12_000, 40_000.7} {
			late := make([]float64, 5000)
			c.follow(late, 123, d)
			for i, tau := range late {
				at := float64(123 + i)
				_, now := c.at(at)
				_, then := c.at(at - tau)
				require.InDelta(t, d, tau+now-then, 1e-4, "%+v, %v samples, at %v", m, d, at) // a ten-thousandth of a sample: −70 dB at 0.4 of the rate
			}
		}
	}
}

// A still head's mean delay is its own: wow goes both ways.
func TestTheMeanDelayStays(t *testing.T) {
	c := newCarrier(&preset.Motion{WowPercent: 0.3, WowHz: 1}, rate, rand.New(rand.NewPCG(3, 1)))
	late := make([]float64, 48_000)
	c.follow(late, 0, 12_000)
	sum := 0.0
	for _, v := range late {
		sum += v / float64(len(late))
	}
	require.InDelta(t, 12_000, sum, 0.1)
}

// A tone is recorded and played back in one pass, and the meter reads back the wow
// that was asked for: AES6-2008 weighting of p·sin at 4 Hz is p itself, at 0.8 Hz
// p·0.501 (its table), and the speed's own deviation is p. Two heads, one seed each.
func TestTheMeterReadsTheWowThatWasAsked(t *testing.T) {
	for _, c := range []struct {
		percent preset.Percent
		hz      preset.Hertz
		delay   preset.Millis
		seed    uint64
	}{{0.2, 0.8, 377.3, 1}, {0.1, 4, 121.7, 2}, {0.3, 1.5, 250.1, 3}} {
		g := Graph{
			Nodes:  []Node{{From: []Path{{From: Input, Gain: 1}}}},
			Heard:  []Path{{From: 0, Delay: c.delay, Gain: 0.5}},
			Motion: &preset.Motion{WowPercent: c.percent, WowHz: c.hz},
		}
		y := rendered(t, g, Options{Seed: c.seed}, sineWave(int(rate)*20, 2*math.Pi*3150/rate, 0))
		m, err := steadytone.New(steadytone.Options{Rate: rate, Nominal: 3150, Through: c.delay})
		require.NoError(t, err)
		m.Add(y[int(rate):])
		r, err := m.Result()
		require.NoError(t, err)
		require.InEpsilon(t, float64(c.percent), float64(r.Motion.WowPercent), 0.02, "%+v: %+v", c, r.Motion)
		require.InDelta(t, float64(c.hz), float64(r.Motion.WowHz), 0.05)
	}
}

// The figure of AES6 itself, of a carrier that was recorded elsewhere: a pass of which
// the recording ran evenly. A long delay whose wow comes round a half integer of
// times doubles the deviation of the pitch, 2·|sin(π·f·τ)| = 2, so the weighted peak
// reads twice p·linear(f); linear(4 Hz) = 1 (AES6-2008's table).
func TestTheWeightedFigureIsAES6s(t *testing.T) {
	g := Graph{Heard: []Path{{From: Input, Delay: 375, Gain: 0.5}}, Motion: &preset.Motion{WowPercent: 0.1, WowHz: 4}}
	y := rendered(t, g, Options{Seed: 5}, sineWave(int(rate)*15, 2*math.Pi*3150/rate, 0))
	m, err := steadytone.New(steadytone.Options{Rate: rate, Nominal: 3150})
	require.NoError(t, err)
	m.Add(y[int(rate):])
	r, err := m.Result()
	require.NoError(t, err)
	require.InEpsilon(t, 0.2, float64(r.Weighted.Peak), 0.02)
	require.InEpsilon(t, 0.2*0.99692, float64(r.Weighted.TwoSigma), 0.03, "the value that a sine exceeds for 5 % of the time")
}

func TestASeedDecidesWowAndNoise(t *testing.T) {
	level := preset.Decibels(-60)
	g := Graph{Heard: []Path{{From: Input, Delay: 100, Gain: 1}}, Motion: &preset.Motion{WowPercent: 0.3, WowHz: 1}}
	x := noise(20_000, 2)
	one := rendered(t, g, Options{Seed: 1, Noise: &level}, x)
	require.Equal(t, one, rendered(t, g, Options{Seed: 1, Noise: &level}, x))
	require.NotEqual(t, one, rendered(t, g, Options{Seed: 2, Noise: &level}, x))
	hiss := rendered(t, Graph{}, Options{Seed: 1, Noise: &level}, make([]float64, 48_000))
	sum := 0.0
	for _, v := range hiss {
		sum += v * v
	}
	require.InDelta(t, -60, 10*math.Log10(sum/48_000), 0.1, "RMS; a hundred-and-fortieth of it is the scatter of 48000 values")
}

// However the take is cut into blocks, and beside whatever other channel, the sound
// is the same. Both channels ride on one carrier.
func TestBlocksAndChannelsDoNotMatter(t *testing.T) {
	u := sixHeads()
	u.Motion = &preset.Motion{WowPercent: 0.2, WowHz: 0.9, FlutterPercent: 0.05, FlutterHz: 7}
	u.Drive = &preset.Drive{Gain: 9, Bias: 0.2}
	g := graphOf(t, u)
	left, right := noise(60_000, 1), noise(60_000, 2)
	whole := rendered(t, g, Options{Seed: 3}, left)
	other := rendered(t, g, Options{Seed: 3}, right)
	r, err := New(g, Options{Rate: rate, Channels: 2, Seed: 3})
	require.NoError(t, err)
	random := rand.New(rand.NewPCG(8, 8))
	for at := 0; at < len(left); {
		n := min(len(left)-at, random.IntN(3000))
		block := [][]float64{left[at : at+n], right[at : at+n]}
		require.NoError(t, r.Process(block, block))
		at += n
	}
	for i := range whole {
		require.InDelta(t, whole[i], left[i], 1e-12)
		require.InDelta(t, other[i], right[i], 1e-12)
	}
}
