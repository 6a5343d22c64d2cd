package cli

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/cmd/internal/ui"
	"echowright/preset/measure"
)

// opened is a take of these channels.
func opened(t *testing.T, channels ...[]float64) (*call, *recording) {
	t.Helper()
	c := &call{talk: ui.Plain(&bytes.Buffer{})}
	r, err := c.openTake(wavOf(t, 16_000, channels...))
	require.NoError(t, err)
	t.Cleanup(r.close)
	return c, r
}

func ramp(n int, slope float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = float64(float32(slope * float64(i)))
	}
	return x
}

func TestChannelsAreReadAcrossBlocks(t *testing.T) {
	a, b := ramp(2*blockFrames+5, 1e-5), ramp(2*blockFrames+5, -1e-5)
	_, r := opened(t, a, b)
	for _, frames := range []int64{1, blockFrames, blockFrames + 1, r.Frames, r.Frames + 100} {
		got, err := r.channels(t.Context(), frames, 1, 0)
		require.NoError(t, err)
		n := min(frames, r.Frames)
		require.Equal(t, [][]float64{b[:n], a[:n]}, got)
	}
	require.Equal(t, int64(16_000), r.within(1))
	require.Equal(t, r.Frames, r.within(1e9))
	ctx, stop := context.WithCancel(t.Context())
	stop()
	_, err := r.channels(ctx, r.Frames, 0)
	require.ErrorIs(t, err, context.Canceled)
}

// Which channels are alike must not depend on where the blocks end.
func TestChannelsAreComparedBlockByBlock(t *testing.T) {
	const n = 3 * blockFrames
	late := make([]float64, n)
	late[n-1] = 0.5
	loud := ramp(n, 1e-5)
	for _, c := range []struct {
		name     string
		channels [][]float64
		want     int
		code     int
	}{
		{"a sound in the last block only", [][]float64{make([]float64, n), late}, 1, 0},
		{"a difference in the last block only", [][]float64{loud, append(ramp(n-1, 1e-5), 0.1)}, 0, exitMisused},
		{"silence, then two alike", [][]float64{make([]float64, n), loud, loud}, 1, 0},
		{"the second sounds, the third is another", [][]float64{make([]float64, n), loud, late}, 0, exitMisused},
	} {
		t.Run(c.name, func(t *testing.T) {
			quietly, r := opened(t, c.channels...)
			got, err := quietly.oneChannel(t.Context(), r, r.Frames)
			require.Equal(t, c.code, exitCode(err))
			require.Equal(t, c.want, got)
		})
	}
}

func TestWhichChannelIsWetAndWhichIsDry(t *testing.T) {
	a, b, d := ramp(2000, 1e-4), ramp(2000, 2e-4), ramp(2000, 3e-4)
	for _, c := range []struct {
		name     string
		flags    channelFlags
		channels [][]float64
		wet, dry []float64
		says     string
	}{
		{"the direct sound first", channelFlags{dryChannel: 1}, [][]float64{a, b}, b, a, ""},
		{"the direct sound second", channelFlags{dryChannel: 2}, [][]float64{a, b}, a, b, ""},
		{"everything in the second", channelFlags{channel: 2}, [][]float64{a, b}, b, nil, ""},
		{"named both, of three", channelFlags{dryChannel: 3, channel: 1}, [][]float64{a, b, d}, a, d, ""},
		{"the machine is not named, of three", channelFlags{dryChannel: 3}, [][]float64{a, b, d}, nil, nil, "say with --channel which of them holds the machine"},
		{"mono", channelFlags{dryChannel: 1}, [][]float64{a}, nil, nil, "it has one channel"},
		{"no second channel", channelFlags{channel: 2}, [][]float64{a}, nil, nil, "--channel 2: it has 1 channel"},
		{"no fourth channel", channelFlags{dryChannel: 4, channel: 1}, [][]float64{a, b}, nil, nil, "--dry-channel 4: it has 2 channels"},
		{"two that differ and none named", channelFlags{}, [][]float64{a, b}, nil, nil, "hold different sound"},
	} {
		t.Run(c.name, func(t *testing.T) {
			quietly, r := opened(t, c.channels...)
			take, err := c.flags.hear(t.Context(), quietly, r, r.Frames)
			if c.says != "" {
				require.ErrorContains(t, err, c.says)
				require.Equal(t, exitMisused, exitCode(err))
				return
			}
			require.NoError(t, err)
			require.Equal(t, measure.Take{Rate: 16_000, Samples: c.wet, Dry: c.dry}, take)
		})
	}
}

func TestADryFileOfAnotherLengthIsCutWithAWarning(t *testing.T) {
	long, short := ramp(4000, 1e-4), ramp(3000, 2e-4)
	for _, c := range []struct{ wet, dry []float64 }{{long, short}, {short, long}, {short, short}} {
		var talk bytes.Buffer
		_, r := opened(t, c.wet)
		f := channelFlags{dry: wavOf(t, 16_000, c.dry)}
		take, err := f.hear(t.Context(), &call{talk: ui.Plain(&talk)}, r, r.Frames)
		require.NoError(t, err)
		require.Equal(t, c.wet[:3000], take.Samples)
		require.Equal(t, c.dry[:3000], take.Dry)
		require.Equal(t, len(c.wet) != len(c.dry), bytes.Contains(talk.Bytes(), []byte("what both have is measured")))
	}
}

func TestTheHashIsThatOfTheFile(t *testing.T) {
	_, r := opened(t, ramp(1000, 1e-4))
	sum, err := r.sum()
	require.NoError(t, err)
	require.Equal(t, fmt.Sprintf("%x", sha256.Sum256(readAll(t, r.path))), sum)
}

// A long take of noise: what is read of it and held is bounded by the limit.
func TestOnlyTheBeginningOfALongTakeIsHeld(t *testing.T) {
	noise := rand.New(rand.NewPCG(3, 1))
	x := make([]float64, 20*16_000)
	for i := range x {
		x[i] = 0.1 * noise.NormFloat64()
	}
	_, r := opened(t, x, x)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	power := 0.0
	require.NoError(t, r.each(t.Context(), r.Frames, func(block [][]float64) {
		for _, v := range block[1] {
			power += v * v
		}
	}))
	got, err := r.channels(t.Context(), r.within(1), 1)
	require.NoError(t, err)
	runtime.ReadMemStats(&after)
	require.Len(t, got[0], 16_000)
	require.InDelta(t, 0.1, math.Sqrt(power/float64(len(x))), 0.001, "the noise's RMS, to within 1/√(2·320000) of itself, six times over")
	require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(1<<20), "of 5 MB of samples")
}
