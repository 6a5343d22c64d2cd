package cli

import (
	"bytes"
	"fmt"
	"image/png"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/measure/levelsteps"
	"echowright/preset/measure/response"
	"echowright/preset/measure/sweep"
	"echowright/preset/picture"
	"echowright/preset/signals"
)

func TestTheNameSaysHowItIsDrawn(t *testing.T) {
	for path, begins := range map[string]string{
		"a.svg": "<?xml", "b.SVG": "<?xml", "some.where/c.png": "\x89PNG", "d.Png": "\x89PNG",
	} {
		draw, err := pageFormat(path)
		require.NoError(t, err, path)
		page, err := draw("nothing")
		require.NoError(t, err)
		require.True(t, bytes.HasPrefix(page, []byte(begins)), path)
	}
	for _, path := range []string{"", "a", "a.jpg", "svg", "a.svg.txt", "a.svg/b"} {
		_, err := pageFormat(path)
		require.ErrorContains(t, err, ".svg (", path)
		require.ErrorContains(t, err, ".png (", path)
	}
}

func kinds(panels []picture.Panel) (all []string) {
	for _, p := range panels {
		all = append(all, strings.TrimPrefix(fmt.Sprintf("%T", p), "picture."))
	}
	return all
}

func TestPanelsAreThoseThatHaveSomethingToShow(t *testing.T) {
	u := preset.Unit{Heads: []preset.Head{{Head: 2, Delay: 120, HighCutHz: 3000}, {Head: 3, Inferred: true}}}
	take := measure.Take{Rate: 8000, Samples: make([]float64, 8000)}
	m := measure.Result{Onsets: []preset.Millis{100}}
	require.Equal(t, []string{"Waveform", "Levels", "Tones"}, kinds(notePanels(u, take, m)))
	m.Left, m.LeftStep, m.Note = []preset.Decibels{-60}, 10, 250
	m.Speed, m.SpeedStep = []float64{0.1, math.NaN()}, 10
	all := notePanels(u, take, m)
	require.Equal(t, []string{"Waveform", "Levels", "Remainder", "Tones", "Motion"}, kinds(all))
	require.Equal(t, preset.Millis(250), all[2].(picture.Remainder).Note)
	require.Equal(t, []picture.Response{{Head: 2, Tone: preset.Tone{HighCut: 3000}}}, all[3].(picture.Tones).Heads, "what was inferred was not measured")
	take.Dry = take.Samples
	require.Zero(t, notePanels(u, take, m)[2].(picture.Remainder).Note, "the direct sound is elsewhere")
}

func TestPicturesOfResponsesShowWhatWasMeasured(t *testing.T) {
	u := preset.Unit{Heads: []preset.Head{{Head: 2}, {Head: 3, Inferred: true}, {Head: 4}}}
	take := measure.Take{Rate: 8000, Samples: make([]float64, 8000)}
	take.Samples[800], take.Samples[800+960], take.Samples[800+2000] = 0.5, 0.1, 0.9
	m := headsResult{
		Result: response.Result{Ways: []response.Way{
			{Delay: 120, Level: -14, Curve: []response.Point{{Hz: 1000, Level: -14}, {Hz: 4000, Level: -17}}}, {Delay: 250, Level: 5},
		}},
		harmonics: []sweep.Distortion{{Way: 1, Order: 2, Curve: []sweep.Harmonic{{Hz: 400, Level: -40}}}, {Way: 1, Order: 3}},
	}
	panels := responsePanels(u, take, quick(signals.KindClicks), m)
	require.Equal(t, []string{"Impulse", "Tones", "Harmonics"}, kinds(panels))
	click := panels[0].(picture.Impulse)
	require.InDelta(t, 100, float64(click.Take.Onset), 1e-9, "the direct sound, though the second head is louder")
	require.Equal(t, 4, click.Take.Marks[1].Head)
	require.Equal(t, []picture.Strength{{At: 1000}, {At: 4000, Level: -3}}, panels[1].(picture.Tones).Heads[0].Curve)
	harmonics := panels[2].(picture.Harmonics)
	require.Equal(t, 4, harmonics.Head)
	require.Equal(t, []picture.Strength{{At: 400, Level: -40}}, harmonics.Orders[0].Curve)

	take.Dry = make([]float64, 8000)
	take.Dry[400] = 0.2
	apart := responsePanels(u, take, quick(signals.KindClicks), m)[0].(picture.Impulse)
	require.True(t, apart.Dry)
	require.InDelta(t, 50, float64(apart.Take.Onset), 1e-9, "in its own channel")
}

func TestPicturesOfStepsShowEachStep(t *testing.T) {
	panels := stepPanels(levelsteps.Result{Steps: []levelsteps.Step{{In: -20, Out: -23, Noise: 0.1}}, Gain: -3, EvenToOdd: -12})
	require.Equal(t, []string{"Transfer", "StepHarmonics"}, kinds(panels))
	require.Equal(t, preset.Decibels(-23), panels[0].(picture.Transfer).Steps[0].Out)
	require.Equal(t, preset.Decibels(-12), panels[1].(picture.StepHarmonics).EvenToOdd)
}

func TestEachSignalIsDrawn(t *testing.T) {
	for kind, flags := range map[signals.Kind][]string{
		signals.KindSweep: {"--heads", "3"}, signals.KindClicks: {"--heads", "3"}, signals.KindTone: nil, signals.KindSteps: {"--dry-channel", "1"},
	} {
		t.Run(string(kind), func(t *testing.T) {
			take, figures := recorded(t, quick(kind), kind == signals.KindSteps)
			plot := filepath.Join(t.TempDir(), "drawn.png")
			got := world(t).run(t, append([]string{"measure", take, "--signal", figures, "--plot", plot}, flags...)...)
			require.Equal(t, exitDone, got.code, got.talk)
			require.Contains(t, got.talk, "written: "+plot)
			m, err := png.Decode(bytes.NewReader(readAll(t, plot)))
			require.NoError(t, err)
			require.Equal(t, 1920, m.Bounds().Dx())
			require.Greater(t, m.Bounds().Dy(), 600)
		})
	}
}
