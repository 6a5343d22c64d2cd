package picture

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func drawnPNG(t testing.TB, panels ...Panel) image.Image {
	t.Helper()
	file, err := PNG("a take", panels...)
	require.NoError(t, err)
	m, err := png.Decode(bytes.NewReader(file))
	require.NoError(t, err)
	return m
}

// count says how many pixels of a rectangle have a colour.
func count(m image.Image, in image.Rectangle, c color.RGBA) (n int) {
	for y := in.Min.Y; y < in.Max.Y; y++ {
		for x := in.Min.X; x < in.Max.X; x++ {
			if color.RGBAModel.Convert(m.At(x, y)) == c {
				n++
			}
		}
	}
	return n
}

func TestTheImageIsTwiceAsFineAsThePage(t *testing.T) {
	for _, p := range everyPanel(someTake()) {
		root, m := page(t, p), drawnPNG(t, p)
		require.Equal(t, int(math.Round(fineness*root.number(t, "width"))), m.Bounds().Dx())
		require.Equal(t, int(math.Round(fineness*root.number(t, "height"))), m.Bounds().Dy())
	}
}

func TestEveryPanelLeavesInk(t *testing.T) {
	for _, p := range everyPanel(someTake()) {
		m := drawnPNG(t, p)
		all := m.Bounds().Dx() * m.Bounds().Dy()
		white := count(m, m.Bounds(), inks[paper].day)
		require.Less(t, white, all*99/100, "%T: more than words", p)
		require.Greater(t, white, all/3, "%T: paper is seen", p)
		require.Positive(t, count(m, m.Bounds(), inks[black].day), "%T: words", p)
		require.Positive(t, count(m, m.Bounds(), inks[frameline].day), "%T: a frame", p)
	}
}

// What the text says stands where, stands there in the image too.
func TestImageAndTextHaveOneLayout(t *testing.T) {
	take := someTake()
	root, m := page(t, Waveform{Take: take}), drawnPNG(t, Waveform{Take: take})
	for i, e := range root.find("first") {
		l := e.tags("line")[0]
		x, top, bottom := l.number(t, "x1"), l.number(t, "y1"), l.number(t, "y2")
		// A line of 1.5 pixels covers three of the image; its middle is all ink.
		strip := image.Rect(int(fineness*x)-2, int(fineness*top)+4, int(fineness*x)+3, int(fineness*bottom)-4)
		require.Greater(t, count(m, strip, inks[inkOf(i)].day), strip.Dy()/2, e.attr("class"))
	}
	beside := image.Rect(int(fineness*(leftEdge+2)), 0, int(fineness*(leftEdge+3)), m.Bounds().Dy())
	require.Zero(t, count(m, beside, inks[firstHeadInk].day))
}

func TestWordsAreDrawn(t *testing.T) {
	few, more := drawnPNG(t), func() image.Image {
		file, err := PNG("a take with a title that is much longer")
		require.NoError(t, err)
		m, err := png.Decode(bytes.NewReader(file))
		require.NoError(t, err)
		return m
	}()
	ink := inks[black].day
	require.Greater(t, count(more, more.Bounds(), ink), 2*count(few, few.Bounds(), ink))
	require.Positive(t, count(few, few.Bounds(), ink))
}

func TestDashesAreLengths(t *testing.T) {
	require.Empty(t, lengths(whole))
	for _, d := range append(dashes[1:], dotted, broken) {
		all := lengths(d)
		require.Zerof(t, len(all)%2, "%q: strokes and gaps", d)
		for _, v := range all {
			require.Positive(t, float64(v))
		}
	}
}

func BenchmarkSVG(b *testing.B) { benchmark(b, SVG) }
func BenchmarkPNG(b *testing.B) { benchmark(b, PNG) }

// benchmark draws what a take of 4 s at 48 kHz shows.
func benchmark(b *testing.B, draw func(string, ...Panel) ([]byte, error)) {
	take := someTake()
	take.Samples, take.Rate = make([]float64, 4*48000), 48000
	for i := range take.Samples {
		take.Samples[i] = 0.3 * math.Sin(float64(i)/20) * math.Exp(-float64(i)/20000)
	}
	panels := everyPanel(take)[:5]
	size := 0
	b.ReportAllocs()
	for b.Loop() {
		file, err := draw("take", panels...)
		if err != nil {
			b.Fatal(err)
		}
		size = len(file)
	}
	b.ReportMetric(float64(size)/1024, "KiB")
}
