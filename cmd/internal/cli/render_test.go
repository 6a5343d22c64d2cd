package cli

import (
	"bytes"
	"errors"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/render"
	"echowright/preset/wavfile"
	"echowright/profiles"
)

// dryTake writes a take of a few short bursts of noise, at half of full scale.
func dryTake(t *testing.T, channels int, form wavfile.Encoding, rate preset.Hertz) string {
	t.Helper()
	random := rand.New(rand.NewPCG(1, 2))
	all := make([][]float64, channels)
	for c := range all {
		all[c] = make([]float64, int(rate))
		for i := range all[c] {
			if i%9000 < 700 {
				all[c][i] = random.Float64() - 0.5
			}
		}
		all[c][5] = 0.5
	}
	var b bytes.Buffer
	_, err := wavfile.Write(&b, rate, all, form)
	require.NoError(t, err)
	return write(t, "dry.wav", b.String())
}

func readWAV(t *testing.T, path string) *wavfile.Take {
	t.Helper()
	b := readAll(t, path)
	take, err := wavfile.Read(path, bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	return take
}

// Two whole-sample echoes and a loop by hand: the direct sound is itself, head 1 (200
// ms) 3 dB below head 3 (400 ms), which is as loud as the direct sound where the
// profile says nothing; the loop is −6 dB a turn.
func TestARenderingIsWhatTheProfileSays(t *testing.T) {
	unit := write(t, "fen.toml", someUnit)
	for _, c := range []struct {
		channels int
		rate     preset.Hertz
		form     wavfile.Encoding
	}{{1, 48_000, wavfile.PCM24}, {2, 44_100, wavfile.Float32}, {2, 96_000, wavfile.PCM24}, {1, 192_000, wavfile.Float32}} {
		dry := dryTake(t, c.channels, c.form, c.rate)
		out := filepath.Join(t.TempDir(), "wet.wav")
		s := world(t).run(t, "render", unit, dry, "--out", out, "--gain-db", "-12", "--tail", "0.5")
		require.Equal(t, exitDone, s.code, s.talk)
		x, y := readWAV(t, dry), readWAV(t, out)
		require.Equal(t, c.form, y.Encoding)
		require.Equal(t, c.rate, y.Rate)
		require.Equal(t, x.Frames()+int(c.rate)/2, y.Frames())
		g := preset.Decibels(-12).Amplitude()
		d1, d3 := int(c.rate)/5, 2*int(c.rate)/5
		for ch := range x.Channels {
			memory, loop := make([]float64, y.Frames()), fenLoop(t)
			at := func(v []float64, i int) float64 {
				if i < 0 || i >= len(v) {
					return 0
				}
				return v[i]
			}
			for i := range memory {
				memory[i] = at(x.Channels[ch], i) + loop*at(memory, i-d3)
				want := g * (at(x.Channels[ch], i) + preset.Decibels(-3).Amplitude()*at(memory, i-d1) + at(memory, i-d3))
				require.InDelta(t, want, y.Channels[ch][i], 2e-7, "sample %d", i) // a step of 24 bits is 1.2e-7
			}
		}
	}
}

// fenLoop is the loop gain that someUnit has, from its text.
func fenLoop(t *testing.T) float64 {
	t.Helper()
	c := &call{}
	u, err := c.unit(write(t, "fen.toml", someUnit))
	require.NoError(t, err)
	require.Equal(t, []int{3}, u.Feedback.Heads)
	return u.Feedback.Gain.Amplitude()
}

func TestARenderingIsNeverLouderThanTheTakeUnlessAsked(t *testing.T) {
	unit := write(t, "fen.toml", someUnit)
	for _, form := range []wavfile.Encoding{wavfile.PCM24, wavfile.Float32} {
		dry := dryTake(t, 2, form, 48_000)
		for _, c := range []struct {
			args   []string
			louder bool
		}{{nil, false}, {[]string{"--noise-db", "-20"}, false}, {[]string{"--wet-only"}, false}, {[]string{"--start-level", "as-made"}, true}} {
			out := filepath.Join(t.TempDir(), "wet.wav")
			v := world(t).run(t, append([]string{"render", unit, dry, "--out", out, "--json", "-q"}, c.args...)...).decode(t)
			x, y := peakOf(readWAV(t, dry).Channels), peakOf(readWAV(t, out).Channels)
			require.Equal(t, c.louder, y > x, "%v: %v against %v", c.args, y, x)
			require.InDelta(t, 20*math.Log10(y), v["peak_dbfs"], 0.01)
			if len(c.args) == 0 {
				require.Positive(t, v["lowered_db"])
				require.InDelta(t, x, y, 1e-6, "and no softer than needed")
			}
		}
	}
}

func TestFieldsOfRender(t *testing.T) {
	unit, dry := write(t, "fen.toml", someUnit), dryTake(t, 1, wavfile.PCM24, 48_000)
	v := world(t).run(t, "render", unit, dry, "--out", filepath.Join(t.TempDir(), "wet.wav"), "--json", "-q").decode(t)
	hasFields(t, v, "wav", "unit", "rate_hz", "channels", "seconds", "tail_s", "seed", "dry_peak_dbfs", "peak_dbfs", "gain_db", "lowered_db",
		"loop_gain_db", "limited_samples", "clipped_samples", "warnings")
}

// A sample that is no sound is found where it stands, and no file comes of it.
func TestATakeWithASampleThatIsNoNumberIsRefused(t *testing.T) {
	var b bytes.Buffer
	_, err := wavfile.Write(&b, 48_000, [][]float64{make([]float64, 20_000)}, wavfile.Float32)
	require.NoError(t, err)
	text := b.Bytes()
	copy(text[len(text)-4*500:], []byte{0, 0, 0xC0, 0x7F})
	dry, folder := write(t, "dry.wav", string(text)), t.TempDir()
	for _, args := range [][]string{nil, {"--gain-db", "0"}} {
		s := world(t).run(t, append([]string{"render", write(t, "fen.toml", someUnit), dry, "--out", filepath.Join(folder, "wet.wav")}, args...)...)
		require.Equal(t, exitFailed, s.code)
		require.Contains(t, s.talk, "sample 19501 of channel 1")
		left, err := os.ReadDir(folder)
		require.NoError(t, err)
		require.Empty(t, left)
	}
}

// No tone and no direct sound: the response of a device's graph and the train of its
// network are the same sum of echoes, so their spectra are the same at 1 kHz,
// magnitude and phase. Random settings of every shipped device, loops so weak that
// all has died away within the response.
func TestADevicesGraphMakesTheEchoesOfItsNetwork(t *testing.T) {
	const rate, length = 48_000.0, 4.0
	random := rand.New(rand.NewPCG(5, 6))
	for _, name := range profiles.Names() {
		d, err := profiles.Shipped(name)
		require.NoError(t, err)
		tried := 0
		for range 2000 {
			s := anySetting(d, random)
			n, err := d.Network(s)
			if err != nil || d.LoopGain(s) > -12 || tried == 8 {
				continue
			}
			g, err := deviceGraph(d, s)
			require.NoError(t, err)
			withoutPhase(&g)
			r, err := render.New(g, render.Options{Rate: rate, Channels: 1})
			if err != nil {
				require.ErrorContains(t, err, "too short to be rendered")
				continue
			}
			train, err := n.Train(-110, 1000*length)
			if err != nil {
				continue
			}
			tried++
			var want, got complex128
			for _, e := range train {
				a := e.Level.Amplitude()
				if e.Inverted {
					a = -a
				}
				want += complex(a, 0) * cmplx.Exp(complex(0, -2*math.Pi*e.At.Seconds()*1000))
			}
			x := make([]float64, int(length*rate)+r.Latency())
			x[0] = 1
			require.NoError(t, r.Process([][]float64{x}, [][]float64{x}))
			for i, v := range x[r.Latency():] {
				got += complex(v, 0) * cmplx.Exp(complex(0, -2*math.Pi*float64(i)/rate*1000))
			}
			require.InDelta(t, 0, cmplx.Abs(got-want), 2e-3*(1+cmplx.Abs(want)), "%s: %v", name, d.Rows(s))
		}
		require.Positive(t, tried, name)
	}
}

// withoutPhase puts what cuts that cannot be switched off leave at 1 kHz in place of
// them, as a network has it.
func withoutPhase(g *render.Graph) {
	for i := range g.Nodes {
		n := &g.Nodes[i]
		for k := range n.From {
			n.From[k].Gain *= n.Tone.Magnitude(preset.Reference)
		}
		n.Tone = preset.Tone{}
	}
}

// anySetting is a random setting whose cuts and drive are out of the way.
func anySetting(d *profiles.Device, random *rand.Rand) profiles.Setting {
	s := profiles.Setting{Codes: make([]int, len(d.Parameters))}
	for i, p := range d.Parameters {
		switch p.Role {
		case profiles.RoleHighCut, profiles.RoleLowCut, profiles.RoleDrive, profiles.RoleNote, profiles.RoleOther:
			s.Codes[i] = p.Rest
		default:
			s.Codes[i] = p.Scale.Low + random.IntN(p.Scale.High()-p.Scale.Low+1)
		}
		if p.Role == profiles.RoleFeedback && random.IntN(2) == 0 {
			s.Codes[i] = p.Rest
		}
	}
	return s
}

// The cuts of a line damp what the device's description says: at the memory all that
// passes, in the loop what is fed back alone, at the output what is heard, once.
func TestADevicesCutsStandWhereItsDescriptionSays(t *testing.T) {
	for _, c := range []struct {
		at   profiles.ToneAt
		want []int // cuts that the first, second and third echo have passed
	}{{profiles.ToneMemory, []int{1, 2, 3}}, {profiles.ToneLoop, []int{0, 1, 2}}, {profiles.ToneOutput, []int{1, 1, 1}}} {
		d := cutDevice(t, c.at)
		s := restSetting(d)
		line, tap := d.Lines[0], d.Lines[0].Taps[0]
		for _, set := range []struct {
			parameter int
			value     float64
		}{
			{tap.Parameter(profiles.RoleTime), 100}, {tap.Parameter(profiles.RoleLevel), 0},
			{line.Parameter(profiles.RoleFeedback), -6}, {line.Parameter(profiles.RoleHighCut), 2000},
		} {
			s.Codes[set.parameter] = d.Parameters[set.parameter].Scale.Nearest(set.value)
		}
		g, err := deviceGraph(d, s)
		require.NoError(t, err)
		tone, f, heard := d.Tone(line, s), d.Feedback(line, s), d.Heard(line, tap, s)*d.Mix(s)
		r, err := render.New(g, render.Options{Rate: 48_000, Channels: 1})
		require.NoError(t, err)
		x := make([]float64, 20_000)
		x[0] = 1
		require.NoError(t, r.Process([][]float64{x}, [][]float64{x}))
		for k, passed := range c.want {
			from := 4800*(k+1) - 100
			var h complex128
			for i, v := range x[from : from+4700] {
				h += complex(v, 0) * cmplx.Exp(complex(0, -2*math.Pi*float64(i)/48))
			}
			want := heard * math.Pow(f, float64(k)) * math.Pow(tone.Magnitude(1000), float64(passed))
			require.InEpsilon(t, want, cmplx.Abs(h), 0.01, "%s: echo %d", c.at, k+1)
		}
	}
}

// cutDevice is a shipped device whose cuts stand elsewhere.
func cutDevice(t *testing.T, at profiles.ToneAt) *profiles.Device {
	t.Helper()
	d, err := profiles.Shipped("tap-loop")
	require.NoError(t, err)
	was := []byte(`tone = "memory"`)
	require.Equal(t, 1, bytes.Count(d.Source(), was))
	text := bytes.ReplaceAll(d.Source(), was, []byte(`tone = "`+string(at)+`"`))
	d, err = profiles.Parse("tap-loop.toml", text)
	require.NoError(t, err)
	return d
}

// restSetting leaves everything out of the way.
func restSetting(d *profiles.Device) profiles.Setting {
	s := profiles.Setting{Codes: make([]int, len(d.Parameters))}
	for i, p := range d.Parameters {
		s.Codes[i] = p.Rest
	}
	return s
}

// A disk that fills up ends the rendering with its own error, at whichever block it
// comes.
func TestAFullDiskEndsTheRendering(t *testing.T) {
	full := errors.New("no room")
	for _, after := range []int{0, 1, 5} {
		written := 0
		b := newBeside(1, func([][]float64) error {
			if written++; written > after {
				return full
			}
			return nil
		})
		var err error
		for range 20 {
			if err = b.hand([][]float64{{1, 2}}, 1); err != nil {
				break
			}
		}
		require.ErrorIs(t, err, full)
		require.ErrorIs(t, b.end(), full)
		require.Equal(t, after+1, written, "nothing is written behind the hole")
	}
}
