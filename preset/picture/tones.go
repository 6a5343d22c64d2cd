package picture

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"echowright/preset"
)

// Tones shows how much of each pitch the heads let through.
type Tones struct{ Heads []Response }

// A Response is the tone of a head: the one of its two cuts and, where it was
// measured at each frequency, the levels there.
type Response struct {
	Head  int
	Tone  preset.Tone
	Curve []Strength // by frequency; nil where only the cuts are known
}

// A Strength is a level at a frequency, to that at 1 kHz.
type Strength struct {
	At    preset.Hertz
	Level preset.Decibels
}

const (
	lowestShown  = 50.0 // Hz
	highestShown = 16_000.0
	deepestTone  = -36.0 // dB
)

// A voice is the heads that share a tone; it sounds as the first of them does.
type voice struct {
	Response
	all []Response
}

func (t Tones) draw(s *sheet) {
	s.heading("The tone of the heads")
	var numbers []int
	for _, h := range t.Heads {
		numbers = append(numbers, h.Head)
	}
	place, voices := order(numbers), t.voices()
	s.legend(legendOfTones(voices, place))
	f := s.frame(200, hertz(lowestShown, highestShown), t.scale())
	f.upright(float64(preset.Reference), black, 1, dotted)
	f.level(0, black, 1, dotted)
	for _, v := range voices {
		i := place[v.Head]
		hint := group{class: "voice", hint: v.words()}
		s.group(hint, func() {
			if v.Curve == nil {
				f.curve("cuts", pitches(), v.cuts(), inkOf(i), 2.5, dashOf(i))
				return
			}
			f.curve("cuts", pitches(), v.cuts(), grey, 1, dotted)
			at, level := v.measured()
			f.curve("measured", at, level, inkOf(i), 2.5, dashOf(i))
		})
	}
	s.caption(t.words())
}

func (t Tones) words() string {
	words := "To the left are low pitches, to the right high ones; where a line falls, so much of the sound is lost, " +
		"held against 1 kHz (the dotted upright line), where the levels of the echoes are told."
	if slices.ContainsFunc(t.Heads, func(r Response) bool { return r.Curve != nil }) {
		return words + " The grey dots are the nearest pair of simple cuts: these a profile keeps."
	}
	return words + " At a cut's own frequency 3 dB are lost."
}

// voices puts heads together whose tones nobody could tell apart.
func (t Tones) voices() []voice {
	var all []voice
	for _, r := range t.Heads {
		i := slices.IndexFunc(all, func(v voice) bool { return alike(v.Response, r) })
		if i < 0 {
			all, i = append(all, voice{Response: r}), len(all)
		}
		all[i].all = append(all[i].all, r)
	}
	return all
}

// alike says whether two tones differ by less than a line's width.
func alike(a, b Response) bool {
	const hair = 0.3 // dB
	if len(a.Curve) != len(b.Curve) {
		return false
	}
	for i := range a.Curve {
		if a.Curve[i].At != b.Curve[i].At || math.Abs(float64(a.Curve[i].Level-b.Curve[i].Level)) > hair {
			return false
		}
	}
	one, other := a.cuts(), b.cuts()
	for i := range one {
		if math.Abs(one[i]-other[i]) > hair {
			return false
		}
	}
	return true
}

func legendOfTones(voices []voice, place map[int]int) []entry {
	var all []entry
	for _, v := range voices {
		i := place[v.Head]
		all = append(all, entry{v.words(), stroked(inkOf(i), 2.5, dashOf(i))})
	}
	return all
}

func (v voice) words() string {
	who := fmt.Sprintf("head %d", v.Head)
	if len(v.all) > 1 {
		words := make([]string, len(v.all))
		for i, r := range v.all {
			words[i] = fmt.Sprint(r.Head)
		}
		who = "heads " + strings.Join(words, ", ")
	}
	cuts := slices.DeleteFunc([]string{
		v.cut("low cut", func(t preset.Tone) preset.Hertz { return t.LowCut }),
		v.cut("high cut", func(t preset.Tone) preset.Hertz { return t.HighCut }),
	}, func(words string) bool { return words == "" })
	if len(cuts) == 0 {
		cuts = []string{"no cut found"}
	}
	return who + ": " + strings.Join(cuts, ", ")
}

// cut names a cut, from the lowest to the highest that the heads have; "" if they
// have none.
func (v voice) cut(name string, of func(preset.Tone) preset.Hertz) string {
	var all []float64
	for _, r := range v.all {
		if f := of(r.Tone); f > 0 {
			all = append(all, math.Round(float64(f)))
		}
	}
	s, ok := spanOf(all)
	switch {
	case !ok:
		return ""
	case s.low == s.high:
		return name + " " + fixed(s.low, 0) + " Hz"
	}
	return name + " " + fixed(s.low, 0) + " to " + fixed(s.high, 0) + " Hz"
}

// pitches are frequencies an eighth of an octave or so apart.
func pitches() []float64 {
	const n = 100
	all := make([]float64, n+1)
	for i := range all {
		all[i] = lowestShown * math.Pow(highestShown/lowestShown, float64(i)/n)
	}
	all[n] = highestShown
	return all
}

func (r Response) cuts() []float64 {
	all := pitches()
	reference := r.Tone.Magnitude(preset.Reference)
	for i, f := range all {
		all[i] = 20 * math.Log10(r.Tone.Magnitude(preset.Hertz(f))/reference)
	}
	return all
}

func (r Response) measured() (at, level []float64) {
	for _, p := range r.Curve {
		at, level = append(at, float64(p.At)), append(level, float64(p.Level))
	}
	return at, level
}

func (t Tones) scale() scale {
	s := span{-6, 0}
	for _, v := range t.voices() {
		_, level := v.measured()
		for _, values := range [][]float64{v.cuts(), level} {
			if found, ok := spanOf(values); ok {
				s.low, s.high = math.Min(s.low, found.low), math.Max(s.high, found.high)
			}
		}
	}
	s.high = math.Min(s.high+1, 18)
	s.low = math.Max(s.low, deepestTone)
	s = s.widened(6)
	y := scale{name: "level in dB, to that at 1 kHz", low: s.low, high: s.high, label: func(v float64) string { return label(v) + " dB" }}
	for v := s.low; v <= s.high; v += 6 {
		y.ticks = append(y.ticks, v)
	}
	return y
}
