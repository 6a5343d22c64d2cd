package profiles

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// Three heads at 121, 263 and 405 ms with −7, 0, −2 dB and the loop fed from the
// last one, with five delay lines (common practice, no source), set by hand: c
// carries the loop, a and b the first echoes, d and e take c's output for the
// repeats of a and b.
func handMade(t *testing.T, d *Device) Setting {
	return setting(t, d, map[string]int{
		"a-time": 1210, "a-level": 107,
		"b-time": 2630, "b-level": 121,
		"c-time": 4050, "c-level": 117, "c-feedback": 64,
		"d-time": 1210, "d-level": 95, "d-source": 3, // a half lower: −7 − 6 dB
		"e-time": 2630, "e-level": 109, "e-source": 3,
		"dry-level": 121,
	})
}

func TestEchoesOfASettingMadeByHand(t *testing.T) {
	d := fiveLine(t)
	echoes, err := d.Echoes(handMade(t, d), -60, 2025)
	require.NoError(t, err)
	const turn = -6.0206 // 20·log10(64/128)
	for i, e := range echoes {
		n, head := i/3, i%3
		at := []preset.Millis{121, 263, 405}[head] + preset.Millis(n)*405
		level := []preset.Decibels{-7, 0, -2}[head] + preset.Decibels(n)*turn
		require.InDelta(t, float64(at), float64(e.At), 1e-6)
		require.InDelta(t, float64(level), float64(e.Level), 0.03*float64(n)+1e-3, "d and e sit on half decibels, the loop does not")
	}
	require.Len(t, echoes, 15, "five turns of three heads")
}

func TestTonePassesOnceATurn(t *testing.T) {
	d := fiveLine(t)
	s := setting(t, d, map[string]int{"a-time": 1000, "a-level": 121, "a-feedback": 64, "a-high-cut": 6, "a-low-cut": 0})
	echoes, err := d.Echoes(s, -40, 4000)
	require.NoError(t, err)
	// A one-pole cut at 1000 Hz takes 10·log10(2) dB at 1 kHz, once for the first
	// echo and once more each turn.
	for n, e := range echoes {
		require.InDelta(t, 100*float64(n+1), float64(e.At), 1e-9)
		require.InDelta(t, -3.0103*float64(n+1)-6.0206*float64(n), float64(e.Level), 1e-3)
	}
	require.Len(t, echoes, 5)
}

func TestInvertedAndSilentLines(t *testing.T) {
	d := fiveLine(t)
	s := setting(t, d, map[string]int{"a-time": 1000, "a-level": 121, "a-polarity": 1, "b-time": 2000, "b-level": 0})
	echoes, err := d.Echoes(s, -60, 4000)
	require.NoError(t, err)
	require.Len(t, echoes, 1)
	require.True(t, echoes[0].Inverted)
}

func TestSourcesInACircle(t *testing.T) {
	d := fiveLine(t)
	for name, codes := range map[string]map[string]int{
		"itself":      {"a-source": 1},
		"two lines":   {"a-source": 2, "b-source": 1},
		"three lines": {"c-source": 4, "d-source": 5, "e-source": 3},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := d.Echoes(setting(t, d, codes), -60, 4000)
			require.ErrorContains(t, err, "circle")
		})
	}
	_, err := d.Echoes(setting(t, d, map[string]int{"a-source": 2, "b-source": 3, "c-source": 4, "d-source": 5}), -60, 4000)
	require.NoError(t, err, "a chain of five is no circle")
}

func TestDryLevel(t *testing.T) {
	d := fiveLine(t)
	require.InDelta(t, -3, float64(d.DryLevel(setting(t, d, map[string]int{"dry-level": 115}))), 1e-9)
	require.Less(t, float64(d.DryLevel(d.Rest())), -1000.0)
}

func TestRowsAndDifferences(t *testing.T) {
	d := fiveLine(t)
	was, is := d.Rest(), handMade(t, d)
	is.Name = "ebb"
	rows := d.Rows(is)
	require.Equal(t, Row{Parameter: "a-time", Value: 121.0, Unit: "ms", Code: 1210}, rows[0])
	require.Equal(t, Row{Parameter: "a-high-cut", Value: "off", Code: 31}, rows[d.Parameter("a-high-cut")])
	differences := d.Differences(was, is)
	require.Contains(t, differences, Difference{Parameter: "d-source", Was: "input", Is: "c"})
	require.Contains(t, differences, Difference{Parameter: "a-level", Was: "silent", Is: -7.0, Unit: "dB"})
	require.Contains(t, differences, Difference{Parameter: "name", Was: "", Is: "ebb"})
	require.Empty(t, d.Differences(is, is.Clone()))
	is.Codes[d.Parameter("a-level")] = 200
	require.Contains(t, d.Differences(was, is), Difference{Parameter: "a-level", Was: "silent", Is: "code 200", Unit: "dB"})
}

func TestCheckNamesTheParameter(t *testing.T) {
	d := fiveLine(t)
	s := d.Rest()
	s.Codes[d.Parameter("b-level")] = 122
	require.ErrorContains(t, d.Check(s), "b-level: code 122")
	s = d.Rest()
	s.Name = "thirteen long"
	require.ErrorContains(t, d.Check(s), "12 characters")
	s.Name = "sørland"
	require.ErrorContains(t, d.Check(s), "ASCII")
	require.Equal(t, "s-rland", d.FitName("sørland"))
	require.Equal(t, "saltmarsh-dr", d.FitName("saltmarsh-drum-1"))
	require.ErrorContains(t, d.Check(Setting{}), "0 codes")
}
