package sweep

import (
	"bytes"
	"encoding/binary"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/measure"
)

// machineInSciPy makes the sweep by SciPy's chirp, runs it through a digital
// one-pole low-pass of its own and delays it by whole samples; the first line
// that it writes tells what its freqz says of the filter.
const machineInSciPy = `
import sys, numpy as np
from scipy import signal
rate, seconds, f1, f2 = 24000, 4.9, 20, 10000
t = np.arange(int(rate*seconds))/rate
x = np.zeros(int(rate*8)); n = 12345
x[n:n+len(t)] = 0.1*signal.chirp(t, f1, seconds, f2, method="logarithmic", phi=-90)
b, a = signal.butter(1, 2500, fs=rate)
y = x.copy()
for d, g in ((2905, 0.45), (6312, -1.0), (9734, 0.8)):
    y[d:] += g*signal.lfilter(b, a, x)[:-d]
w, h = signal.freqz(b, a, [1000, 315, 2000], fs=rate)
_, slow = signal.group_delay((b, a), [1000, 315, 2000], fs=rate)
sys.stdout.write(" ".join("%.9f" % v for v in [*abs(h), *slow]) + "\n"); sys.stdout.flush()
sys.stdout.buffer.write(y.astype("<f8").tobytes())`

func TestAMachineMadeBySciPy(t *testing.T) {
	out, err := exec.Command("/usr/bin/python3", "-c", machineInSciPy).Output()
	if err != nil {
		t.Skip("no SciPy here to make a machine:", err)
	}
	line, raw, _ := bytes.Cut(out, []byte("\n"))
	told := numbers(t, string(line))
	x := make([]float64, len(raw)/8)
	require.NoError(t, binary.Read(bytes.NewReader(raw), binary.LittleEndian, x))
	s := short()
	s.Sweep.FadeIn, s.Sweep.FadeOut = 0, 0
	r, err := Measure(measure.Take{Rate: s.Rate, Samples: x}, s, []int{1, 2, 3})
	require.NoError(t, err)
	for k, w := range r.Ways {
		delay := preset.SamplesToMillis([]float64{2905, 6312, 9734}[k], s.Rate)
		gain := []float64{0.45, 1, 0.8}[k]
		require.InDelta(t, float64(preset.FromAmplitude(gain*told[0])), float64(w.Level), 0.05)
		require.Equal(t, k == 1, w.Inverted)
		// The digital low-pass has the corner of an analogue one, but not quite its
		// phase, which is taken off the delay: a quarter of a sample is left for it.
		require.InDelta(t, float64(delay), float64(w.Delay), 0.01)
		for _, p := range w.Curve {
			for i, f := range []preset.Hertz{1000, 315, 2000} {
				if p.Hz > f*0.99 && p.Hz < f*1.01 {
					require.InDelta(t, float64(preset.FromAmplitude(gain*told[i])), float64(p.Level), 0.1)
					require.InDelta(t, float64(delay+preset.SamplesToMillis(told[3+i], s.Rate)), float64(p.Delay), 0.005)
				}
			}
		}
	}
}

func numbers(t *testing.T, line string) []float64 {
	t.Helper()
	var all []float64
	for _, word := range strings.Fields(line) {
		v, err := strconv.ParseFloat(word, 64)
		require.NoError(t, err)
		all = append(all, v)
	}
	return all
}
