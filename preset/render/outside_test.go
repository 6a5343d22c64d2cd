package render

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/wavfile"
)

// Other people's programs on the same machine. They are asked where they are
// installed.

// program gives the path of a program, or skips the test.
func program(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skip("SKIP: no second opinion here:", err)
	}
	return path
}

// run gives what a program said, which must have ended well.
func run(t *testing.T, name string, args ...string) string {
	t.Helper()
	told, err := exec.Command(name, args...).CombinedOutput()
	require.NoError(t, err, "%s %v: %s", name, args, told)
	return string(told)
}

// floatFile writes x as a WAV file in floating point and gives x as that holds it.
func floatFile(t *testing.T, path string, x []float64) []float64 {
	t.Helper()
	var b bytes.Buffer
	_, err := wavfile.Write(&b, rate, [][]float64{x}, wavfile.Float32)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o600))
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = float64(float32(v))
	}
	return out
}

// rawFloats reads a file of 32-bit floats, or of 64-bit ones.
func rawFloats(t *testing.T, path string, bits int) []float64 {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	var x []float64
	for i := 0; i+bits/8 <= len(b); i += bits / 8 {
		if bits == 64 {
			x = append(x, math.Float64frombits(binary.LittleEndian.Uint64(b[i:])))
			continue
		}
		x = append(x, float64(math.Float32frombits(binary.LittleEndian.Uint32(b[i:]))))
	}
	return x
}

// residual is the RMS of a − b over that of b, in dB.
func residual(a, b []float64) float64 {
	var left, whole float64
	for i := range b {
		left += (a[i] - b[i]) * (a[i] - b[i])
		whole += b[i] * b[i]
	}
	return 10 * math.Log10(left/whole)
}

// SciPy's lfilter on whole-sample delays is the difference equation itself:
//
//	y = Σ a_k·z^−d_k / (1 − Σ g_j·z^−d_j) · x, the tone's poles in it.
//
// Without tone it must agree to rounding; with the tone too, as both are the same
// recursion in other order.
const lfilterScript = `
import json, sys
import numpy as np
from scipy.signal import lfilter
p = json.load(open(sys.argv[1]))
x = np.fromfile(sys.argv[2])
# the memory: m = T (x + sum g m z^-d), T = in (1 - z^-1) / ((1 - low z^-1)(1 - high z^-1))
num, den = np.array(p["num"]), np.array(p["den"])
loop = np.zeros(max(d for d, g in p["loop"]) + 1)
for d, g in p["loop"]: loop[d] += g
n = len(loop) + max(len(num), len(den))
a = np.zeros(n); a[:len(den)] += den
c = np.convolve(num, loop); a[:len(c)] -= c
m = lfilter(num, a, x)
heads = np.zeros(max(d for d, g in p["heads"]) + 1)
for d, g in p["heads"]: heads[d] += g
lfilter(heads, [1.0], m).tofile(sys.argv[3])
`

func TestWholeSamplesAgreeWithSciPyToRounding(t *testing.T) {
	const python = "/usr/bin/python3"
	if exec.Command(python, "-c", "import scipy.signal").Run() != nil {
		t.Skip("SKIP: no SciPy here for a second opinion")
	}
	x := noise(8000, 5)
	for _, c := range []struct {
		name string
		tone preset.Tone
	}{{"plain", preset.Tone{}}, {"with low and high cut", preset.Tone{LowCut: 90, HighCut: 3100}}} {
		t.Run(c.name, func(t *testing.T) {
			tap := func(d float64, level preset.Decibels, inverted bool) preset.Tap {
				return preset.Tap{Delay: samples(d), Level: level, Inverted: inverted, Tone: c.tone}
			}
			m := Machine{Pattern: preset.Pattern{
				Taps:    []preset.Tap{tap(301, 0, false), tap(777, -3, true), tap(1500, -5, false)},
				Returns: []preset.Return{{Delay: samples(1500), Gain: -4, Tone: c.tone}, {Delay: samples(777), Gain: -9, Inverted: true, Tone: c.tone}},
			}}
			g := m.Graph()
			f := newFilter(c.tone, true, rate)
			num, den := []float64{f.gain * (1 - f.high)}, []float64{1, -f.high}
			if f.low < 1 {
				num = []float64{num[0] * f.low, -num[0] * f.low}
				den = []float64{1, -f.high - f.low, f.high * f.low}
			}
			pairs := func(all []Path) string {
				var words []string
				for _, p := range all {
					words = append(words, fmt.Sprintf("[%d, %.17g]", int(math.Round(p.Delay.Samples(rate))), p.Gain))
				}
				return "[" + strings.Join(words, ", ") + "]"
			}
			dir := t.TempDir()
			script, figures, in, out := filepath.Join(dir, "f.py"), filepath.Join(dir, "p.json"), filepath.Join(dir, "in"), filepath.Join(dir, "out")
			require.NoError(t, os.WriteFile(script, []byte(lfilterScript), 0o600))
			numbers := func(v []float64) string { return strings.ReplaceAll(fmt.Sprintf("%.17g", v), " ", ", ") }
			require.NoError(t, os.WriteFile(figures, fmt.Appendf(nil, `{"num": %s, "den": %s, "loop": %s, "heads": %s}`,
				numbers(num), numbers(den), pairs(g.Nodes[0].From[1:]), pairs(g.Heard)), 0o600))
			var raw []byte
			for _, v := range x {
				raw = binary.LittleEndian.AppendUint64(raw, math.Float64bits(v))
			}
			require.NoError(t, os.WriteFile(in, raw, 0o600))
			run(t, python, script, figures, in, out)
			want, got := rawFloats(t, out, 64), rendered(t, g, Options{}, x)
			require.Len(t, want, len(got))
			for i := range got {
				require.InDelta(t, want[i], got[i], 1e-9, "sample %d", i) // the direct form of two poles near 1 rounds the coarser
			}
		})
	}
}

// SoX's echos plays taps one after the other, each as often as it decays; with one
// tap it is one echo: gain-in·x + decay·x(t − d), all times gain-out. Its files hold
// 32 bits.
func TestAnEchoAgreesWithSoX(t *testing.T) {
	sox := program(t, "sox")
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.wav"), filepath.Join(dir, "out.f32")
	x := floatFile(t, in, noise(9600, 6))
	run(t, sox, in, "-t", "f32", out, "echos", "0.8", "0.5", "100", "0.6")
	want := rawFloats(t, out, 32)
	g := Graph{Heard: []Path{{From: Input, Gain: 0.8 * 0.5}, {From: Input, Delay: 100, Gain: 0.6 * 0.5}}}
	got := rendered(t, g, Options{}, append(x, make([]float64, max(0, len(want)-len(x)))...))
	for i := range x {
		require.InDelta(t, want[i], got[i], 1e-6, "sample %d", i)
	}
}

// FFmpeg's aecho: (in·x + Σ decay·in·x(t − d))·out, its delays in whole milliseconds'
// samples.
func TestEchoesAgreeWithFFmpeg(t *testing.T) {
	ffmpeg := program(t, "ffmpeg")
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.wav"), filepath.Join(dir, "out.f32")
	x := floatFile(t, in, noise(24_000, 7))
	run(t, ffmpeg, "-v", "error", "-i", in, "-af", "aecho=0.5:0.8:60|150|270:0.9|0.5|0.3", "-f", "f32le", out)
	want := rawFloats(t, out, 32)
	g := Graph{Heard: []Path{
		{From: Input, Gain: 0.5 * 0.8}, {From: Input, Delay: 60, Gain: 0.9 * 0.8}, {From: Input, Delay: 150, Gain: 0.5 * 0.8}, {From: Input, Delay: 270, Gain: 0.3 * 0.8},
	}}
	got := rendered(t, g, Options{}, x)
	for i := range x {
		require.InDelta(t, want[i], got[i], 1e-6, "sample %d", i)
	}
}

// A unit in Csound: its own windowed sinc of 64 points reads the line, its own tone
// and atone stand before it.
const unitInCsound = `<CsoundSynthesizer>
<CsInstruments>
sr = 48000
ksmps = 1
nchnls = 1
0dbfs = 1
instr 1
ain soundin "%s"
; where the carrier is: P(t) = -sway*cos(turn*t + phase); a head reads what was written
; t0 ago with t0 = d - P(t) + P(t - t0), put in three times
iturn = %.15g
iphase = %.15g
isway = %.15g
asec = a(timeinsts() - 1/sr)
anow = -isway*cos(iturn*asec + iphase)
%saline delayr 1
a1 deltapx ad1, 64
a2 deltapx ad2, 64
a3 deltapx ad3, 64
arec = ain + %.15g*a3
%s
delayw arec
out %.15g*a1 + %.15g*a2 + %.15g*a3
endin
</CsInstruments>
<CsScore>
i 1 0 %g
</CsScore>
</CsoundSynthesizer>`

// The project asks for a residual below −70 dB plain, −60 dB with loop and tone. The
// sound is noise up to 0.35 of the rate, by a cut so steep that nothing of it lies
// where neither program reads between samples.
func TestAUnitAgreesWithCsound(t *testing.T) {
	csound := program(t, "csound")
	for _, c := range []struct {
		name string
		loop preset.Decibels
		tone preset.Tone
		wow  preset.Percent
		most float64
	}{
		{"plain", preset.MinLevel * 2, preset.Tone{}, 0, -70},
		{"with wow", preset.MinLevel * 2, preset.Tone{}, 0.3, -70},
		{"with loop and tone", -5, preset.Tone{LowCut: 100, HighCut: 3000}, 0, -60},
		{"with loop, tone and wow", -5, preset.Tone{LowCut: 100, HighCut: 3000}, 0.3, -60},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := preset.Pattern{
				Taps:    []preset.Tap{{Delay: 61.2347, Tone: c.tone}, {Delay: 122.7113, Level: -2, Inverted: true, Tone: c.tone}, {Delay: 187.019, Level: -4, Tone: c.tone}},
				Returns: []preset.Return{{Delay: 187.019, Gain: c.loop, Tone: c.tone}},
			}
			motion := preset.Motion{WowPercent: c.wow, WowHz: 1.3}
			g := Machine{Pattern: p, Motion: &motion}.Graph()
			const seed = 3
			wow := sine{turn: 1}
			if all := newCarrier(&motion, rate, rand.New(rand.NewPCG(seed, 1))).sines; len(all) > 0 {
				wow = all[0]
			}
			delays := ""
			for i, tap := range p.Taps {
				delays += fmt.Sprintf("ad%d = a(%.15g)\n", i+1, tap.Delay.Seconds())
				for range 3 {
					delays += fmt.Sprintf("ad%[1]d = %.15[2]g - anow - isway*cos(iturn*(asec - ad%[1]d) + iphase)\n", i+1, tap.Delay.Seconds())
				}
			}
			dir := t.TempDir()
			in, out, orchestra := filepath.Join(dir, "in.wav"), filepath.Join(dir, "out.raw"), filepath.Join(dir, "unit.csd")
			x := floatFile(t, in, bandNoise(48_000))
			f := newFilter(c.tone, true, rate)
			text := "arec = arec"
			if c.tone != (preset.Tone{}) {
				// Both one-poles have one coefficient c, which Csound works out from a corner f
				// as b − √(b²−1), b = 2 − cos ω; its low cut then has its half power a little
				// beside that. So it is given the corner that has the coefficient.
				text = fmt.Sprintf("arec tone arec, %.15g\narec atone arec, %.15g\narec = arec*%.15g", cornerOf(f.high), cornerOf(f.low), f.gain)
			}
			heard := g.Heard
			require.NoError(t, os.WriteFile(orchestra, fmt.Appendf(nil, unitInCsound, in,
				wow.turn*rate, wow.phase, wow.depth/(wow.turn*rate), delays, g.Nodes[0].From[1].Gain, text,
				heard[0].Gain, heard[1].Gain, heard[2].Gain, float64(len(x))/rate), 0o600))
			run(t, csound, "-d", "-h", "-f", "-o", out, orchestra)
			want := rawFloats(t, out, 32)[:len(x)]
			got := rendered(t, g, Options{Seed: seed}, x)
			left := residual(got, want)
			t.Logf("residual %.1f dB", left)
			require.Less(t, left, c.most)
		})
	}
}

// cornerOf is the corner at which b − √(b²−1), b = 2 − cos ω, comes to c.
func cornerOf(c float64) float64 {
	return rate / (2 * math.Pi) * math.Acos(2-(c*c+1)/(2*c))
}

// bandNoise is a sum of sines at odd frequencies up to 0.35 of the rate.
func bandNoise(n int) []float64 {
	x := make([]float64, n)
	phases := noise(400, 11)
	for k, p := range phases {
		turn := 2 * math.Pi * 0.35 * (float64(k) + 0.5 + p) / float64(len(phases))
		for i := range x {
			x[i] += 0.02 * math.Sin(turn*float64(i)+100*p)
		}
	}
	return x
}
