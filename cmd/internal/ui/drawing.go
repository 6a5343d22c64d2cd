package ui

import (
	"fmt"
	"math"
	"strings"

	"echowright/preset/picture"
)

// blocks fill a cell from below by eighths.
var blocks = [...]rune{' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'}

// The drawing's height in lines, the range of levels it shows, and its narrowest.
const (
	drawnLines = 6
	drawnDepth = 54.0 // dB: 9 a line
	narrowest  = 20
)

// Drawing shows a take in width columns: its loudness over time on a scale in dB,
// a mark below each echo found (▲ the first of a head, with its number; · a
// repeat), and the time axis in ms. It is text without control characters.
func Drawing(t picture.Take, width int) string {
	width = max(width, narrowest)
	from, to := t.Span()
	low, high := t.Envelope(from, to, width)
	eighths := heights(low, high)
	var out strings.Builder
	for line := drawnLines - 1; line >= 0; line-- {
		row := make([]rune, width)
		for i, h := range eighths {
			row[i] = blocks[max(0, min(8, h-8*line))]
		}
		writeRow(&out, row)
	}
	column := func(ms float64) int {
		share := (ms - float64(from)) / float64(to-from)
		return max(0, min(width-1, int(share*float64(width))))
	}
	marks, names := markRows(t.Marks, width, column)
	writeRow(&out, marks)
	writeRow(&out, names)
	writeRow(&out, timeRow(float64(to), width, column))
	return out.String()
}

// heights is the level of each column in eighths of a line above the bottom.
func heights(low, high []float64) []int {
	loudest := 0.0
	for i := range low {
		loudest = max(loudest, -low[i], high[i])
	}
	all := make([]int, len(low))
	for i := range low {
		level := 20 * math.Log10(max(-low[i], high[i])/loudest) // NaN for silence
		if level > -drawnDepth {
			all[i] = int(math.Round((1 + level/drawnDepth) * 8 * drawnLines))
		}
	}
	return all
}

func markRows(marks []picture.Mark, width int, column func(float64) int) (signs, names []rune) {
	signs, names = blank(width), blank(width)
	for _, m := range marks {
		if at := column(float64(m.At)); signs[at] == ' ' {
			signs[at] = '·'
		}
	}
	for _, m := range marks {
		if m.Turn == 0 {
			at := column(float64(m.At))
			signs[at] = '▲'
			put(names, at, fmt.Sprint(m.Head))
		}
	}
	return signs, names
}

// timeRow has round times at their places, as many as fit.
func timeRow(to float64, width int, column func(float64) int) []rune {
	row := blank(width)
	step := 50.0
	for column(step)-column(0) < 8 {
		step *= 2
	}
	end := " ms"
	put(row[:width-len(end)], column(0), "0")
	for ms := step; ms < to; ms += step {
		put(row[:width-len(end)], column(ms), fmt.Sprintf("%.0f", ms))
	}
	put(row, width-len(end), end)
	return row
}

func blank(width int) []rune { return []rune(strings.Repeat(" ", width)) }

// put writes words into the row from at on if they find room beside what stands there.
func put(row []rune, at int, words string) {
	if at+len(words) > len(row) || strings.TrimSpace(string(row[at:at+len(words)])) != "" {
		return
	}
	if at > 0 && row[at-1] != ' ' && words[0] != ' ' {
		return
	}
	copy(row[at:], []rune(words))
}

func writeRow(out *strings.Builder, row []rune) {
	out.WriteString(strings.TrimRight(string(row), " "))
	out.WriteByte('\n')
}
