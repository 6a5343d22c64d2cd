package picture

import (
	"fmt"
	"math"
	"strings"

	"echowright/preset"
)

// Waveform shows a take as an editor would, with a line at each echo. Only first
// echoes are named: the names of all repeats would hide the sound.
type Waveform struct{ Take Take }

func (Waveform) height() float64 { return 180 }

func (w Waveform) draw(c *canvas, top float64) {
	from, to := w.Take.Span()
	a := timeAxis(c, "The take: how loud the recording is, with a line at each echo that was found", from, to, top, w.height())
	const columns = 870 // about a pixel each
	low, high := w.Take.Envelope(from, to, columns)
	level := loudness(low, high, top, w.height())
	c.element("path", "class", "sound", "d", outline(low, high, level))
	c.element("line", "class", "direct", "x1", a.at(0), "x2", a.at(0), "y1", top, "y2", top+w.height())
	c.words("note", "class", "small", "x", a.at(0)+4, "y", top+13)
	lines := labelLines(w.Take.Marks, a, 58)
	for i, m := range w.Take.Marks {
		drawMark(c, m, a.at(float64(m.At)), top, w.height(), lines[i])
	}
}

// loudness is the vertical scale: the loudest sample touches the frame, a take of
// silence is a line in the middle.
func loudness(low, high []float64, top, height float64) axis {
	most := 1e-6
	for i := range low {
		most = math.Max(most, math.Max(-low[i], high[i]))
	}
	return axis{low: -most, high: most, start: top + height, end: top}
}

// outline goes along the greatest samples and back along the least.
func outline(low, high []float64, level axis) string {
	var path strings.Builder
	step := (rightEdge - leftEdge) / float64(len(low))
	for i, v := range high {
		command := 'L'
		if i == 0 {
			command = 'M'
		}
		fmt.Fprintf(&path, "%c%s %s", command, number(leftEdge+(float64(i)+0.5)*step), number(level.at(v)-0.5))
	}
	for i := len(low) - 1; i >= 0; i-- {
		fmt.Fprintf(&path, "L%s %s", number(leftEdge+(float64(i)+0.5)*step), number(level.at(low[i])+0.5))
	}
	return path.String() + "Z"
}

func drawMark(c *canvas, m Mark, x, top, height float64, line int) {
	c.group(func() {
		c.hint(m.tell())
		width := 1.5
		if m.Turn > 0 {
			width = 0.75
		}
		c.element("line", "x1", x, "x2", x, "y1", top, "y2", top+height, "stroke-width", width)
		if m.Turn == 0 {
			c.words(fmt.Sprintf("head %d", m.Head), "x", x+4, "y", top+13+14*float64(line), "stroke", "none")
		}
	}, "class", class(m)+" echo", "data-ms", float64(m.At))
}

func class(m Mark) string {
	if m.Turn == 0 {
		return "first"
	}
	return "repeat"
}

// tell is the mark in words.
func (m Mark) tell() string {
	who := fmt.Sprintf("head %d", m.Head)
	if m.Turn > 0 {
		who += fmt.Sprintf(", repeat %d", m.Turn)
	}
	return who + ": " + m.figures() + " to the direct sound"
}

func (m Mark) figures() string {
	return withSD(float64(m.At), float64(m.SD), 2, "ms") + ", " + withSD(float64(m.Level), float64(m.LevelSD), 1, "dB")
}

func withSD(v, sd float64, decimals int, unit string) string {
	if sd == 0 {
		return fmt.Sprintf("%.*f %s", decimals, v, unit)
	}
	return fmt.Sprintf("%.*f ± %.*f %s", decimals, v, decimals, sd, unit)
}

// labelLines puts the labels of first echoes, so many pixels wide, that stand
// close together on lines below each other.
func labelLines(marks []Mark, a axis, wide float64) []int {
	const most = 4
	lines := make([]int, len(marks))
	var ends [most]float64
	for i, m := range marks {
		if m.Turn > 0 {
			continue
		}
		x := a.at(float64(m.At))
		for line := range ends {
			if ends[line] <= x || line == most-1 {
				lines[i], ends[line] = line, x+wide
				break
			}
		}
	}
	return lines
}

// seen keeps a level that may be −∞ on the scale.
func seen(d preset.Decibels) float64 { return math.Max(-200, math.Min(200, float64(d))) }

// ceil forgives rounding errors; adding 0 makes 0 of −0.
func ceil(v float64) float64 { return math.Ceil(v-1e-9) + 0 }
