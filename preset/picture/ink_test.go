package picture

import (
	"image/color"
	"math"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
)

// contrast is that of WCAG 2.1: (L1+0.05)/(L2+0.05) of the relative luminances.
func contrast(a, b color.RGBA) float64 {
	luminance := func(c color.RGBA) float64 {
		linear := func(v uint8) float64 {
			s := float64(v) / 255
			if s <= 0.03928 {
				return s / 12.92
			}
			return math.Pow((s+0.055)/1.055, 2.4)
		}
		return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
	}
	x, y := luminance(a), luminance(b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

// WCAG 2.1 gives black on white 21:1 as the greatest there is.
func TestContrastIsThatOfTheStandard(t *testing.T) {
	require.InDelta(t, 21, contrast(rgb(0), rgb(0xffffff)), 1e-9)
	require.InDelta(t, 1, contrast(rgb(0x777777), rgb(0x777777)), 1e-9)
}

func TestInksReadByDayAndByNight(t *testing.T) {
	for i, c := range inks {
		least := 3.0 // WCAG 2.1, 1.4.11: lines and signs
		switch ink(i) {
		case black, grey:
			least = 4.5 // 1.4.3: words
		case paper, gridline, pale: // need not be seen to read the picture, or are broad
			continue
		}
		require.GreaterOrEqualf(t, contrast(c.day, inks[paper].day), least, "%s by day", c.class)
		require.GreaterOrEqualf(t, contrast(c.night, inks[paper].night), least, "%s by night", c.class)
	}
}

func TestEveryInkStandsInTheStyleTwice(t *testing.T) {
	css := style()
	require.Contains(t, css, "prefers-color-scheme:dark")
	for _, c := range inks {
		require.Len(t, regexp.MustCompile(`\.`+c.class+`\{stroke:`).FindAllString(css, -1), 2, c.class)
	}
}

// Without colour heads differ by sign and dashes.
func TestHeadsDifferWithoutColour(t *testing.T) {
	type look struct {
		sign int
		ink  ink
	}
	seen := map[look]bool{}
	for i := range headInks * len(signs) {
		outline := len(sign(point{}, i, false).points)
		require.Positive(t, outline)
		l := look{(i + i/headInks) % len(signs), inkOf(i)}
		require.Falsef(t, seen[l], "head %d looks like another", i)
		seen[l] = true
	}
	for i := range headInks {
		for k := range i {
			require.NotEqual(t, dashOf(i), dashOf(k))
			require.NotEqual(t, sign(point{}, i, false).points, sign(point{}, k, false).points)
			require.NotEqual(t, inkOf(i), inkOf(k))
		}
	}
}
