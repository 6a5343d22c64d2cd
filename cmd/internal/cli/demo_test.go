package cli

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"echowright/cmd/internal/ui"
	"echowright/preset"
	"echowright/preset/unitfile"
	"echowright/preset/wavfile"
	"echowright/profiles/arrange"
)

// millpond is a job that is quickly done: a note of a tenth of a second with two
// heads and no loop, made here sample by sample.
func millpond(t *testing.T) scenario {
	t.Helper()
	heads := []preset.Head{{Head: 1, Delay: 125, Level: -6}, {Head: 3, Delay: 250}}
	const rate = 48000
	samples, noise := make([]float64, 3*rate/2), uint32(1)
	note := func(i int) float64 {
		s := float64(i) / rate
		if s < 0 {
			return 0
		}
		return (math.Sin(2*math.Pi*330*s) + math.Sin(2*math.Pi*1100*s)/2) * math.Exp(-s*90) * (1 - math.Exp(-s*4000))
	}
	for i := range samples {
		noise = noise*1664525 + 1013904223
		samples[i] = 0.4*note(i-rate/4) + 1e-4*(float64(noise)/math.MaxUint32-0.5)
		for _, h := range heads {
			late := rate/4 + int(math.Round(h.Delay.Samples(rate)))
			samples[i] += 0.3 * h.Level.Amplitude() * note(i-late)
		}
	}
	var file bytes.Buffer
	_, err := wavfile.Write(&file, rate, [][]float64{samples}, wavfile.PCM24)
	require.NoError(t, err)
	return scenario{
		take: file.Bytes(), takeName: "millpond.wav", unit: "millpond", kind: preset.Disc, heads: heads,
		title: "Still", tempo: 120, note: preset.Note{Denominator: 8}, anchor: 3, device: "five-line", slot: 7,
	}
}

func quiet(t testing.TB) (*call, *bytes.Buffer) {
	var out bytes.Buffer
	c := &call{Env: world(t), out: ui.Plain(&out), talk: ui.Plain(io.Discard)}
	return c, &out
}

// The wire, the flash memory and all waiting are in fake time here.
func TestTheWholeWay(t *testing.T) { synctest.Test(t, theWholeWay) }

func theWholeWay(t *testing.T) {
	c, out := quiet(t)
	folder := filepath.Join(t.TempDir(), "demo")
	require.NoError(t, runDemo(t.Context(), c, millpond(t), folder))
	for _, words := range []string{
		" 1  measure    millpond: 2 heads from ", `for "Still" at 120 BPM: head 3 on 1/8, 100.0 % of the speed`,
		"64 slots in ", "verified: yes", `slot 7 is called "Still"`, "all 2 echoes that were wanted are heard",
		"What was wanted, and what slot 7 of the device makes of it", "It all lies in " + folder,
		"echowright push my-drum-132 --rig stage --slot 5",
	} {
		require.Contains(t, out.String(), words)
	}
	require.NotContains(t, out.String(), "\x1b", "a stream that is no terminal gets no control characters")

	text, err := os.ReadFile(filepath.Join(folder, "library", "units", "millpond.toml"))
	require.NoError(t, err)
	u, err := unitfile.Parse("millpond.toml", text)
	require.NoError(t, err)
	require.Equal(t, "millpond.wav", u.Origin.Take)
	require.InDelta(t, 250, float64(u.Heads[1].Delay), float64(mostOffMeasured))

	drawing, err := os.ReadFile(filepath.Join(folder, pictureName))
	require.NoError(t, err)
	require.NoError(t, xml.Unmarshal(drawing, new(struct{})))
	report, err := os.ReadFile(filepath.Join(folder, "report.txt"))
	require.NoError(t, err)
	require.Equal(t, out.String(), string(report))
}

func TestTheDemonstrationForScripts(t *testing.T) { synctest.Test(t, demonstrationForScripts) }

func demonstrationForScripts(t *testing.T) {
	c, out := quiet(t)
	c.json = true
	folder := t.TempDir()
	require.NoError(t, runDemo(t.Context(), c, millpond(t), folder))
	var v demoView
	require.NoError(t, json.Unmarshal(out.Bytes(), &v))
	require.True(t, v.OK)
	require.Equal(t, "yes", v.Verified)
	require.Len(t, v.Steps, 10)
	require.Len(t, v.Echoes, 2)
	for _, f := range v.Files {
		_, err := os.Stat(filepath.Join(folder, f.Path))
		if f.Path != "report.txt" { // the result is on stdout
			require.NoError(t, err, f.Path)
		}
	}
}

func TestADemonstrationThatIsOffFails(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*scenario)
		says  string
	}{
		"another machine than it is said to be": {func(s *scenario) { s.heads[0].Delay = 127 }, "step 1, measure: the machine's heads are off"},
		"another level":                         {func(s *scenario) { s.heads[0].Level = -9 }, "step 1, measure: the machine's heads are off"},
		"a loop that it does not have":          {func(s *scenario) { s.loop = &preset.Feedback{Heads: []int{3}, Gain: -6} }, "step 1, measure: the machine's loop was not found"},
		"a take that is none":                   {func(s *scenario) { s.take = []byte("a shopping list") }, "step 1, measure: millpond.wav"},
		"a head that it does not have":          {func(s *scenario) { s.anchor = 2 }, "step 3, retime"},
		"an unknown device":                     {func(s *scenario) { s.device = "six-line" }, "step 4, plan: no device"},
		"a slot that it does not have":          {func(s *scenario) { s.slot = 64 }, "step 7, push"},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := millpond(t)
				c.spoil(&s)
				quietly, _ := quiet(t)
				err := runDemo(t.Context(), quietly, s, t.TempDir())
				require.ErrorContains(t, err, c.says)
				require.NotZero(t, exitCode(err))
			})
		})
	}
}

func TestWhatIsHeardIsHeldAgainstWhatIsWanted(t *testing.T) {
	want := arrange.Echo{At: 200, Level: -6}
	got := []preset.Echo{{At: 150}, {At: 200.1, Level: -12.04, Inverted: true}, {At: 201, Level: -6.02}}
	e := nearestHeard(want, got, -6) // the device plays 6 dB softer than the pattern
	require.Equal(t, preset.Millis(200.1), *e.GotAt)
	require.InDelta(t, -6.04, float64(*e.GotLevel), 0.01) // 20·log10(0.25) = −12.04 dB
	require.Nil(t, nearestHeard(want, got[:1], 0).GotAt, "an echo at another time is not the one wanted")
}

func TestADemonstrationTouchesNoFolderThatHoldsSomething(t *testing.T) {
	folder := t.TempDir()
	mine := filepath.Join(folder, "mine")
	require.NoError(t, os.WriteFile(mine, []byte("dear"), 0o644))
	c, out := quiet(t)
	err := runDemo(t.Context(), c, millpond(t), folder)
	require.ErrorContains(t, err, "not empty")
	require.Equal(t, exitMisused, exitCode(err))
	require.Empty(t, out.String())
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	require.Len(t, left, 1)
}

// TestTheShippedDemonstration is what somebody sees who has just cloned the
// project.
func TestTheShippedDemonstration(t *testing.T) {
	c, _ := quiet(t)
	require.NoError(t, runDemo(t.Context(), c, saltmarsh, t.TempDir()))
}

// BenchmarkDemonstration stands beside the twenty seconds that are promised.
func BenchmarkDemonstration(b *testing.B) {
	c, _ := quiet(b)
	for b.Loop() {
		require.NoError(b, runDemo(b.Context(), c, saltmarsh, b.TempDir()))
	}
	b.ReportMetric(20, "s-limit")
}
