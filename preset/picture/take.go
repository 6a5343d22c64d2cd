package picture

import (
	"fmt"
	"math"
	"slices"

	"echowright/preset"
)

// A Take is a measured take, ready to be drawn.
type Take struct {
	Rate    preset.Hertz
	Samples []float64     // in fractions of full scale
	Onset   preset.Millis // of the note, from the first sample; the time axis counts from here
	Marks   []Mark        // sorted by time
}

// A Mark is an echo that was found in the take.
type Mark struct {
	At      preset.Millis   // after the onset
	SD      preset.Millis   // standard deviation, 0 where not known
	Level   preset.Decibels // to the direct sound
	LevelSD preset.Decibels // 0 where not known
	Head    int
	Turn    int // how often it went round the loop before: 0 is the head's first echo
}

// How much is shown before the onset and after the last echo, as a share of the
// time between them.
const (
	leadIn  = 0.04
	leadOut = 0.08
)

// Span is the stretch of time worth showing, in ms after the onset: a little
// before it, up to a little after the last echo or to the end of a take without
// echoes. It is never empty.
func (t Take) Span() (from, to preset.Millis) {
	length := preset.Millis(1)
	if t.Rate > 0 {
		length = max(1, preset.SamplesToMillis(float64(len(t.Samples)), t.Rate)-t.Onset)
	}
	if n := len(t.Marks); n > 0 {
		length = max(1, t.Marks[n-1].At*(1+leadOut))
	}
	return -leadIn * length, length
}

// Envelope is the least and the greatest sample of each of columns equal parts of
// the time from … to (after the onset). Where there are no samples both are 0.
func (t Take) Envelope(from, to preset.Millis, columns int) (low, high []float64) {
	low, high = make([]float64, columns), make([]float64, columns)
	start := (t.Onset + from).Samples(t.Rate)
	step := (to - from).Samples(t.Rate) / float64(columns)
	for i := range columns {
		a := t.index(start + float64(i)*step)
		b := t.index(start + float64(i+1)*step)
		if b == a {
			b = min(a+1, len(t.Samples)) // a column narrower than a sample still shows one
		}
		for _, v := range t.Samples[a:b] {
			if !math.IsNaN(v) {
				low[i], high[i] = min(low[i], v), max(high[i], v)
			}
		}
	}
	return low, high
}

func (t Take) index(sample float64) int {
	if math.IsNaN(sample) {
		return 0
	}
	return int(math.Max(0, math.Min(math.Ceil(sample), float64(len(t.Samples)))))
}

// clock is the time axis, counted from some moment: in ms, or in s where they are
// many.
func clock(moment string, from, to preset.Millis) (scale, func(preset.Millis) float64) {
	const many = 6000
	name, unit := "time after "+moment+" in milliseconds", 1.0
	if to-from > many {
		name, unit = "time after "+moment+" in seconds", 1000
	}
	at := func(t preset.Millis) float64 { return float64(t) / unit }
	return linear(name, at(from), at(to), 14), at
}

// order says for each head the how-maniest of the heads it is, counted from 0: by
// that it has its ink and its sign in every panel.
func order(heads []int) map[int]int {
	sorted := slices.Clone(heads)
	slices.Sort(sorted)
	place := map[int]int{}
	for i, h := range slices.Compact(sorted) {
		place[h] = i
	}
	return place
}

func (t Take) heads() []int {
	var all []int
	for _, m := range t.Marks {
		all = append(all, m.Head)
	}
	return all
}

// first are the marks of the heads' first echoes.
func (t Take) first() []Mark {
	var all []Mark
	for _, m := range t.Marks {
		if m.Turn == 0 {
			all = append(all, m)
		}
	}
	return all
}

// names are the names of the marks: a first echo must have one.
func (t Take) names(x func(Mark) float64) []name {
	all := make([]name, len(t.Marks))
	for i, m := range t.Marks {
		all[i] = name{x: x(m), words: m.name(), face: small}
		if m.Turn == 0 {
			all[i].face, all[i].must = plain, true
		}
	}
	return all
}

func (m Mark) name() string {
	if m.Turn == 0 {
		return fmt.Sprintf("head %d", m.Head)
	}
	return fmt.Sprintf("%d·%d", m.Head, m.Turn)
}

func (m Mark) class() string {
	if m.Turn == 0 {
		return "echo first"
	}
	return "echo repeat"
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

// withSD has decimals enough for the deviation to be seen.
func withSD(v, sd float64, decimals int, unit string) string {
	if sd == 0 {
		return fixed(v, decimals) + " " + unit
	}
	for most := decimals + 2; decimals < most && sd < 0.95*math.Pow10(-decimals); {
		decimals++
	}
	return fixed(v, decimals) + " ± " + fixed(sd, decimals) + " " + unit
}

func (m Mark) group() group {
	return group{class: m.class(), hint: m.tell(), data: []datum{{"ms", float64(m.At)}, {"db", float64(m.Level)}}}
}

// howNamesRead explains the names of repeats, if there are any.
func (t Take) howNamesRead(unnamed int) string {
	for _, m := range t.Marks {
		if m.Turn == 0 {
			continue
		}
		words := fmt.Sprintf(" %s is head %d's sound after %d more %s round the loop.", m.name(), m.Head, m.Turn, plural(m.Turn, "turn", "turns"))
		if unnamed > 0 {
			words += fmt.Sprintf(" %d %s too crowded to be named.", unnamed, plural(unnamed, "repeat stands", "repeats stand"))
		}
		return words
	}
	return ""
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
