package picture

import (
	"encoding/xml"
	"math"
	"regexp"
	"strings"
	"testing"

	"echowright/preset"
)

var betweenTags = regexp.MustCompile(`>[^<]*<`)

// FuzzPage draws whatever comes: the text is always well-formed XML in which every
// place is a number, and the image is drawn without a hitch.
func FuzzPage(f *testing.F) {
	f.Add("a take", 121.0, 0.06, -7.0, 0.1, 20.0, 0.5)
	f.Add("<&\x00\xff", math.Inf(1), math.NaN(), math.Inf(-1), -1.0, -1e300, math.NaN())
	f.Add("", 0.0, 1e300, 400.0, 1e300, 1e300, -1e300)
	f.Add("-", 1e17, 1e-300, 1e17, -1e17, 1e17, 1e17)
	f.Fuzz(func(t *testing.T, title string, at, sd, level, levelSD, onset, sample float64) {
		panels := wild(at, sd, level, levelSD, onset, sample)
		svg, err := SVG(title, panels...)
		if err != nil {
			t.Fatal(err)
		}
		if err := xml.Unmarshal(svg, new(node)); err != nil {
			t.Fatalf("%v\n%s", err, svg)
		}
		places := betweenTags.ReplaceAllString(string(svg), "") // words may say NaN, places may not
		if strings.Contains(places, "NaN") || strings.Contains(places, "Inf") {
			t.Fatalf("a place that is no number:\n%s", svg)
		}
		one := panels[len(title)%len(panels)] // pixels take their time
		if _, err := PNG(title, one); err != nil {
			t.Fatal(err)
		}
	})
}

// wild is one panel of each kind, of any figures.
func wild(at, sd, level, levelSD, onset, sample float64) []Panel {
	ms, db, hz := preset.Millis(at), preset.Decibels(level), preset.Hertz(at)
	take := Take{
		Rate: 8000, Samples: []float64{0, sample, -sample, 0.1}, Onset: preset.Millis(onset),
		Marks: []Mark{{At: ms, SD: preset.Millis(sd), Level: db, LevelSD: preset.Decibels(levelSD), Head: 2}, {At: preset.Millis(sd), Head: 4, Turn: 1}},
	}
	got := Single{At: preset.Millis(sd), Level: preset.Decibels(levelSD)}
	curve := []Strength{{hz, db}, {preset.Hertz(sd), preset.Decibels(levelSD)}}
	steps := []Step{{In: db, Out: preset.Decibels(levelSD), Harmonics: []preset.Percent{preset.Percent(at), preset.Percent(sd)}}, {}}
	return []Panel{
		Waveform{Take: take}, Levels{take}, Impulse{Take: take},
		Remainder{Take: take, Notes: []preset.Millis{ms, preset.Millis(sd)}, Note: preset.Millis(onset), Left: []preset.Decibels{db, 0}, Step: preset.Millis(sd), Noise: db},
		Tones{[]Response{{Head: 1, Tone: preset.Tone{LowCut: hz, HighCut: preset.Hertz(sd)}, Curve: curve}, {Head: 2, Tone: preset.Tone{LowCut: hz}}}},
		Motion{Take: take, Speed: []float64{level, at, sd}, Step: ms, Figures: &preset.Motion{WowPercent: preset.Percent(at)}},
		Harmonics{Orders: []Order{{2, curve}}},
		Rates{[]Rate{{hz, preset.Percent(level), label(at)}, {preset.Hertz(sd), 1, ""}}},
		Transfer{Steps: steps, Gain: db, OneDB: &db, Drive: &preset.Drive{Gain: db, Bias: sd}}, StepHarmonics{Steps: steps},
		Comparison{
			Echoes: []Pair{{Wanted: Single{ms, db}, Got: &got}},
			Extra:  []Single{{preset.Millis(onset), preset.Decibels(sample)}},
		},
	}
}
