package profiles

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Codes are worked by hand from the manuals: tenths of a millisecond, half decibels
// from −60 dB at code 1, an amplitude of code/128.
func TestValuesAsPeopleWriteThem(t *testing.T) {
	five, err := Shipped("five-line")
	require.NoError(t, err)
	twin, err := Shipped("twin")
	require.NoError(t, err)
	scale := func(d *Device, parameter string) *Scale {
		i := d.Parameter(parameter)
		require.NotEqual(t, None, i, parameter)
		return d.Parameters[i].Scale
	}
	for _, test := range []struct {
		scale *Scale
		text  string
		want  int
	}{
		{scale(five, "a-time"), "250ms", 2500},
		{scale(five, "a-time"), "250.04", 2500},
		{scale(five, "a-time"), "0.25 s", 2500},
		{scale(five, "a-time"), "#17", 17},
		{scale(five, "a-level"), "-6dB", 109}, // (−6 + 60)/0.5 + 1
		{scale(five, "a-level"), "silent", 0},
		{scale(five, "a-feedback"), "-6.02 dB", 64},
		{scale(five, "a-source"), "b", 2},
		{scale(five, "a-polarity"), "inverted", 1},
		{scale(five, "a-high-cut"), "off", 31},
		{scale(five, "a-high-cut"), "1kHz", 6}, // 500·2^(6/6)
		{scale(twin, "line-1-clocked-time"), "1/8.", 5},
		{scale(twin, "line-1-clocked-time"), "off", 0},
	} {
		got, err := test.scale.Parse(test.text)
		require.NoError(t, err, test.text)
		require.Equal(t, test.want, got, test.text)
	}
	for text, test := range map[string]struct {
		scale *Scale
		want  string
	}{
		"1700ms":        {scale(five, "a-time"), "reaches from 0 to 1600 ms"},
		"3dB":           {scale(five, "a-level"), "reaches from -60 to 0 dB"},
		"250Hz":         {scale(five, "a-time"), "in ms"},
		"soon":          {scale(five, "a-time"), "takes a number in ms"},
		"#99999":        {scale(five, "a-time"), "codes 0 to 16000"},
		"inputt":        {scale(five, "a-source"), `did you mean "input"?`},
		"inverted -6dB": {scale(five, "a-feedback"), "turns the sign"},
		"1/64":          {scale(twin, "line-1-clocked-time"), "1/4, "},
		"":              {scale(five, "a-time"), "takes a number"},
	} {
		_, err := test.scale.Parse(text)
		require.ErrorContains(t, err, test.want, text)
	}
}

func FuzzScaleParse(f *testing.F) {
	d, err := Shipped("five-line")
	require.NoError(f, err)
	for _, seed := range []string{"250ms", "-6dB", "#12", "off", "input", "1e400"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, p := range d.Parameters {
			if code, err := p.Scale.Parse(text); err == nil {
				require.True(t, p.Scale.Holds(code), "%s: %q gave %d", p.Name, text, code)
			}
		}
	})
}
