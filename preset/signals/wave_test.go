package signals

import (
	"fmt"
	"math"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset"
)

// A quarter of the rate is the sine whose samples are 0, 1, 0, −1; −6.0206 dBFS
// halves them. Fades of nought leave it alone.
func TestToneSampleBySample(t *testing.T) {
	s := Signal{Rate: 8000, Level: preset.FromAmplitude(0.5), Lead: 20, Tail: 1, Tone: &Tone{Frequency: 2000, Seconds: 0.1}}
	require.NoError(t, s.Validate())
	x := s.Samples()
	require.Len(t, x, 160+800+8)
	for i, v := range x {
		want := 0.0
		if n := i - 160; n >= 0 && n < 800 {
			want = []float64{0, 0.5, 0, -0.5}[n%4]
		}
		require.InDelta(t, want, v, 1e-12)
	}
}

func TestALongToneIsExactToItsEnd(t *testing.T) {
	s := Signal{Rate: 48_000, Lead: 20, Tone: &Tone{Frequency: 3150, Seconds: 3000, Fade: 20}}
	block := make([]float64, 320) // 21 periods of 3,150 Hz at 48 kHz
	whole := 960 + 320*449_000
	s.Fill(block, whole)
	for i, v := range block { // 1e-8: what a float64 phase of 10⁷ turns leaves, with a margin
		require.InDelta(t, math.Sin(2*math.Pi*3150*float64(i)/48_000), v, 1e-8)
	}
}

func TestBlocksOfAnySizeMakeTheSameSignal(t *testing.T) {
	for _, kind := range Kinds() {
		s := Default(kind)
		s.Rate, s.Lead = 8000, 100
		switch {
		case s.Sweep != nil:
			s.Sweep.To, s.Sweep.Seconds = 3600, 2
		case s.Clicks != nil:
			s.Clicks = &Clicks{Count: 5, Spacing: 33.3, HighCut: 2000}
		case s.Tone != nil:
			s.Tone.Seconds = 1
		}
		require.NoError(t, s.Validate())
		whole := s.Samples()
		for _, size := range []int{1, 7, 1000, len(whole) + 5} {
			block := make([]float64, size)
			for from := 0; from < len(whole); from += size {
				s.Fill(block, from)
				for i, v := range block {
					want := 0.0
					if from+i < len(whole) {
						want = whole[from+i]
					}
					require.Equal(t, want, v, "%s in blocks of %d, sample %d", kind, size, from+i)
				}
			}
		}
	}
}

// Half way through, an exponential sweep is at the geometric mean of its ends:
// 632.4555 Hz and 707.1068 Hz (√(f1·f2)).
func TestTheMiddleOfASweep(t *testing.T) {
	for _, c := range []struct {
		sweep Sweep
		want  float64
	}{
		{Sweep{From: 20, To: 20_000, Seconds: 10}, 632.4555},
		{Sweep{From: 50, To: 10_000, Seconds: 5}, 707.1068},
	} {
		s := Signal{Rate: 48_000, Lead: 20, Sweep: &c.sweep}
		x := s.Samples()
		middle := 960 + int(24_000*c.sweep.Seconds)
		up := crossings(x, middle-2400, middle+2400)
		// Periods from the first to the last upward crossing within 100 ms, over
		// which the sweep is as much above its middle as below: 0.1 % holds that.
		got := float64(len(up)-1) / (up[len(up)-1] - up[0]) * 48_000
		require.InEpsilon(t, c.want, got, 0.001)
	}
}

func crossings(x []float64, from, to int) []float64 {
	var at []float64
	for i := from; i < to; i++ {
		if x[i] < 0 && x[i+1] >= 0 {
			at = append(at, float64(i)+x[i]/(x[i]-x[i+1]))
		}
	}
	return at
}

// The logarithmic chirp of SciPy has the same phase, as a cosine.
func TestSweepAgainstSciPy(t *testing.T) {
	const python = "/usr/bin/python3"
	script := `
import numpy as np
from scipy.signal import chirp
t = np.arange(0, 48000, 997)/48000
print(*chirp(t, 20, 1.0, 20000, method="logarithmic", phi=-90))`
	out, err := exec.Command(python, "-c", script).Output()
	if err != nil {
		t.Skip("no SciPy here to ask:", err)
	}
	s := Signal{Rate: 48_000, Lead: 20, Sweep: &Sweep{From: 20, To: 20_000, Seconds: 1}}
	x := s.Samples()
	values := strings.Fields(string(out))
	require.Len(t, values, 49)
	for k, text := range values {
		want, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		require.InDelta(t, want, x[960+997*k], 1e-6, "sample %d", 997*k)
	}
}

func TestClicksStandWhereTheFileSaysAndStayInTheirBand(t *testing.T) {
	s := Signal{Rate: 48_000, Level: -20, Lead: 100, Clicks: &Clicks{Count: 4, Spacing: 250, HighCut: 4000}}
	x := s.Samples()
	require.Equal(t, []int{4800, 16_800, 28_800, 40_800}, s.Starts())
	for _, at := range s.Starts() {
		require.InDelta(t, 0.1, x[at], 1e-12)
		for i := 1; i < 100; i++ {
			require.Less(t, x[at+i], 0.1)
			require.Equal(t, x[at-i], x[at+i], "a click has no phase of its own")
		}
	}
	power := fourier.NewFFT(9600).Coefficients(nil, x[:9600])
	in, out := 0.0, 0.0
	for i, c := range power {
		p := real(c)*real(c) + imag(c)*imag(c)
		switch f := 5 * i; {
		case f < 4000:
			in += p
		case f > 5000: // the window of 4 periods to each side spreads the edge by a quarter of the cut
			out += p
		}
	}
	require.Less(t, 10*math.Log10(out/in), -40.0)
}

func TestStepsRiseByTheirStep(t *testing.T) {
	s := Default(KindSteps)
	levels := s.StepLevels()
	require.Len(t, levels, 12)
	require.InDelta(t, -53, float64(levels[0]), 1e-9, "-20 dBFS less eleven times 3 dB")
	require.InDelta(t, -20, float64(levels[11]), 1e-9)
	x := s.Samples()
	for k, start := range s.Starts() {
		require.Equal(t, 24_000+k*76_800, start)
		sum := 0.0
		for _, v := range x[start+1200 : start+3600] { // 20 periods of 400 Hz
			sum += v * v
		}
		// AES17: the RMS of a sine of 0 dBFS is 1/√2.
		dbfs := 10 * math.Log10(2*sum/2400)
		require.InDelta(t, float64(levels[k]), dbfs, 1e-6)
		for _, v := range x[start+4800 : start+76_800-1] {
			require.Zero(t, v)
		}
	}
	require.Nil(t, Default(KindTone).StepLevels())
}

func BenchmarkFill(b *testing.B) {
	for _, kind := range Kinds() {
		b.Run(fmt.Sprint(kind), func(b *testing.B) {
			s := Default(kind)
			block := make([]float64, 4096)
			for n := 0; b.Loop(); n++ {
				s.Fill(block, n*len(block)%s.Frames())
			}
			seconds := float64(b.N*len(block)) / float64(s.Rate)
			b.ReportMetric(seconds/b.Elapsed().Seconds(), "x-real-time")
		})
	}
}
