package cli

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/cmd/internal/ui"
	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/wavfile"
)

func TestAUnitIsNamedAfterItsTake(t *testing.T) {
	for path, want := range map[string]string{
		"saltmarsh-heads-246.wav":    "saltmarsh-heads-246",
		"takes/My Drum (Take 2).WAV": "my-drum-take-2",
		"../Größe.wav":               "gr-e",
		"…":                          "take",
		"":                           "take",
		"a.b.wav":                    "a-b",
	} {
		require.Equal(t, want, nameAfter(path), path)
		require.NoError(t, preset.CheckName(nameAfter(path)))
	}
}

func TestWhichChannelIsMeasured(t *testing.T) {
	quiet, loud, other := []float64{0, 0, 0}, []float64{0.5, -0.5, 0.1}, []float64{0.5, 0.5, 0.1}
	almost := []float64{0.5 + 1e-5, -0.5, 0.1} // less than half a step of 16 bits: 1.5e-5
	for _, c := range []struct {
		name     string
		channels [][]float64
		want     int
		code     int
	}{
		{"mono", [][]float64{loud}, 0, 0},
		{"silence is the measurement's to refuse", [][]float64{quiet, quiet}, 0, 0},
		{"one of two is silent", [][]float64{quiet, loud}, 1, 0},
		{"two alike", [][]float64{loud, loud}, 0, 0},
		{"two alike but for rounding", [][]float64{loud, almost}, 0, 0},
		{"two that differ", [][]float64{loud, other}, 0, exitMisused},
		{"three of which one differs", [][]float64{loud, loud, other}, 0, exitMisused},
	} {
		t.Run(c.name, func(t *testing.T) {
			var file bytes.Buffer
			_, err := wavfile.Write(&file, 48000, c.channels, wavfile.Float32)
			require.NoError(t, err)
			quietly := &call{talk: ui.Plain(&bytes.Buffer{})}
			r, err := quietly.openTake(write(t, "x.wav", file.String()))
			require.NoError(t, err)
			defer r.close()
			got, err := quietly.oneChannel(t.Context(), r, r.Frames)
			require.Equal(t, c.code, exitCode(err))
			require.Equal(t, c.want, got)
		})
	}
}

func TestScriptsGetTheNamesOfTheUnitFile(t *testing.T) {
	u := preset.Unit{
		Name: "fen-disc", Kind: preset.Disc,
		Origin: &preset.Origin{Take: "fen.wav", Measured: time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC)},
		Heads:  []preset.Head{{Head: 1, Delay: 200, LevelSD: 0.1, Inverted: true, HighCutHz: 3200}},
	}
	text, err := json.Marshal(unitView(u, []measure.Warning{{What: "it hums", Do: "move the cable"}}))
	require.NoError(t, err)
	require.JSONEq(t, `{"name": "fen-disc", "kind": "disc",
		"origin": {"take": "fen.wav", "measured": "2026-03-14"},
		"head": [{"head": 1, "delay_ms": 200, "delay_sd_ms": 0, "level_db": 0, "level_sd_db": 0.1,
			"inverted": true, "low_cut_hz": 0, "high_cut_hz": 3200}],
		"warnings": ["it hums: move the cable"]}`, string(text))
	text, err = json.Marshal(unitView(preset.Unit{}, nil))
	require.NoError(t, err)
	require.Contains(t, string(text), `"warnings":[]`)
}

func TestOneLineSaysWhatWasFound(t *testing.T) {
	u := preset.Unit{Name: "fen", Heads: []preset.Head{{Head: 2, Delay: 121}, {Head: 4, Delay: 263.456, Level: -1}}}
	require.Equal(t, "fen: 2 heads from 121.00 to 263.46 ms, no loop", oneLine(u))
	u.Feedback = &preset.Feedback{Heads: []int{2, 4}, Gain: -6.94, GainSD: 0.21}
	u.Direct = &preset.Direct{EchoToDirect: 1.25}
	require.Equal(t, "fen: 2 heads from 121.00 to 263.46 ms, loop from heads 2, 4 at -6.9 ± 0.2 dB a turn, loudest head +1.2 dB to the direct sound", oneLine(u))
	u.Heads = u.Heads[:1]
	require.Contains(t, oneLine(u), "fen: 1 head at 121.00 ms")
}

func TestDigitsThatNobodyMeasuredAreLeftOut(t *testing.T) {
	loop, direct := preset.Feedback{Heads: []int{1}, Gain: -6.89667}, preset.Direct{EchoToDirect: -0.0000001}
	u := preset.Unit{Feedback: &loop, Direct: &direct, Drive: &preset.Drive{Gain: 3.00049}, Motion: &preset.Motion{WowHz: 0.90009},
		Heads: []preset.Head{{Head: 1, Delay: 120.997267766, Level: -6.9932891, HighCutHz: 3199.99999}}}
	got := tidied(u)
	require.Equal(t, preset.Head{Head: 1, Delay: 120.9973, Level: -6.993, HighCutHz: 3200}, got.Heads[0])
	require.Equal(t, preset.Decibels(-6.897), got.Feedback.Gain)
	require.Equal(t, preset.Hertz(0.9), got.Motion.WowHz)
	require.Equal(t, preset.Decibels(3), got.Drive.Gain)
	require.False(t, math.Signbit(float64(got.Direct.EchoToDirect)))
	require.Equal(t, preset.Millis(120.997267766), u.Heads[0].Delay, "the unit handed in stays as it was")
	require.Equal(t, preset.Decibels(-6.89667), loop.Gain)
}

func TestThePictureShowsTheFirstNoteAndItsEchoes(t *testing.T) {
	m := measure.Result{
		Onsets: []preset.Millis{100, 500},
		Echoes: []measure.Echo{{At: 121, Level: -7, Head: 2}, {At: 263, Head: 4, Turn: 1}},
	}
	take := drawn(make([]float64, 8000), 8000, m)
	require.Len(t, take.Samples, 4000, "up to the second note at 500 ms")
	require.Equal(t, preset.Millis(100), take.Onset)
	require.Len(t, take.Marks, 2)
	require.Equal(t, 1, take.Marks[1].Turn)
	require.Len(t, drawn(make([]float64, 10), 8000, m).Samples, 10)
}
