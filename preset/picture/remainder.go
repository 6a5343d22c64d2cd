package picture

import (
	"fmt"
	"math"

	"echowright/preset"
)

// Remainder shows how loud the take is and what is left of it once the echoes that
// the measured unit makes are taken out: at one glance, whether it explains the
// take.
type Remainder struct {
	Take  Take              // the whole of it
	Notes []preset.Millis   // where the direct sounds begin, from the first sample
	Note  preset.Millis     // how long a direct sound lasts; 0 where it is not in the take
	Left  []preset.Decibels // RMS re full scale, from the first sample on; NaN where nothing was worked out
	Step  preset.Millis     // of Left
	Noise preset.Decibels   // RMS re full scale
}

// A remainder that lies less than this above the noise is noise.
const muchLeft = 6.0 // dB

func (r Remainder) draw(s *sheet) {
	s.heading("What the measured unit does not explain")
	sounds := r.sounds()
	left := make([]float64, len(r.Left))
	for i, v := range r.Left {
		left[i] = float64(v)
	}
	s.legend([]entry{
		{"the take", stroked(sound, 2, whole)},
		{"what is left without the echoes", stroked(bright, 2, whole)},
		{"its noise", stroked(black, 1, broken)},
	})
	r.Take.Onset = r.from()
	from, to := timeline(r.Take, len(r.told()))
	x, at := clock(moment(len(r.told())), from, to)
	f := s.frame(170, x, r.scale(sounds, left))
	times := make([]float64, len(left))
	for i := range times {
		times[i] = at(preset.Millis(float64(i)+0.5)*r.Step - r.Take.Onset)
	}
	for _, n := range r.Notes {
		f.upright(at(n-r.Take.Onset), black, 1, dotted)
	}
	f.level(seen(r.Noise), black, 1, broken)
	f.curve("take", times, sounds, sound, 2, whole)
	f.curve("left", times, left, bright, 2, whole)
	s.caption(r.words(sounds, left))
}

// moment is what the time of a page counts from.
func moment(notes int) string {
	if notes > 1 {
		return "the first note"
	}
	return "the note"
}

// timeline is what is shown of a take: of one note as much as of its echoes, of
// several all.
func timeline(t Take, notes int) (from, to preset.Millis) {
	if notes < 2 {
		return t.Span()
	}
	t.Marks = nil
	from, to = t.Span()
	return max(from, -t.Onset), to
}

// told are those of the notes for which something was worked out.
func (r Remainder) told() []int {
	var all []int
	for k, n := range r.Notes {
		i := int(math.Ceil(float64(n / r.Step)))
		if i >= 0 && i < len(r.Left) && !math.IsNaN(float64(r.Left[i])) {
			all = append(all, k)
		}
	}
	return all
}

// from is where the time counts from: the first note that is told of.
func (r Remainder) from() preset.Millis {
	if told := r.told(); len(told) > 0 {
		return r.Notes[told[0]]
	}
	return r.Take.Onset
}

func (r Remainder) scale(all ...[]float64) scale {
	s := span{seen(r.Noise) - 3, seen(r.Noise) + 3}
	for _, values := range all {
		if v, ok := spanOf(values); ok {
			s.low, s.high = math.Min(s.low, v.low), math.Max(s.high, v.high)
		}
	}
	s = s.widened(10)
	s.low = math.Max(s.low, s.high-120)
	return linear("level in dB; 0 dB is the loudest a recording can hold", s.low, s.high, 6)
}

// sounds is the level of the take where Left has one.
func (r Remainder) sounds() []float64 {
	all := make([]float64, len(r.Left))
	for i := range all {
		a := r.Take.index((preset.Millis(i) * r.Step).Samples(r.Take.Rate))
		b := r.Take.index((preset.Millis(i+1) * r.Step).Samples(r.Take.Rate))
		all[i] = math.NaN()
		if b > a {
			all[i] = float64(preset.FromAmplitude(math.Max(rms(r.Take.Samples[a:b]), 1e-10)))
		}
	}
	return all
}

func rms(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}

// depth is how far what is left lies below the take, and above its noise, in dB,
// both taken together where no direct sound is heard; ok is false where nothing
// tells.
func (r Remainder) depth(sounds, left []float64) (below, above float64, ok bool) {
	take, rest, n := 0.0, 0.0, 0.0
	for i := range left {
		if math.IsNaN(left[i]) || math.IsNaN(sounds[i]) || r.hearsNote(preset.Millis(i)*r.Step) {
			continue
		}
		take += math.Pow(10, sounds[i]/10)
		rest += math.Pow(10, left[i]/10)
		n++
	}
	if !(take > 0 && rest > 0) {
		return 0, 0, false
	}
	return 10 * math.Log10(take/rest), 10*math.Log10(rest/n) - seen(r.Noise), true
}

// hearsNote says whether the step that begins at t holds direct sound.
func (r Remainder) hearsNote(t preset.Millis) bool {
	for _, n := range r.Notes {
		if t+r.Step > n-r.Step && t < n+r.Note+r.Step && r.Note > 0 {
			return true
		}
	}
	return false
}

func (r Remainder) words(sounds, left []float64) string {
	below, above, ok := r.depth(sounds, left)
	if !ok {
		return "Nothing was worked out here that could be held against the take."
	}
	when := ""
	if r.Note > 0 {
		when = fmt.Sprintf(" After the note itself, which lasts %s ms and is no echo,", fixed(float64(r.Note), 0))
	}
	what := fmt.Sprintf(" what the unit does not explain lies %s dB below the take", fixed(below, 0))
	if below < 0 {
		what = fmt.Sprintf(" what the unit does not explain lies %s dB above the take", fixed(-below, 0))
	}
	verdict := ", no louder than the take's own noise: everything is explained."
	if above >= muchLeft {
		verdict = fmt.Sprintf(" and %s dB above its noise: something sounds there that the measured unit does not make.", fixed(above, 0))
	}
	which := ""
	if told := r.told(); len(told) == 1 && len(r.Notes) > 1 {
		which = fmt.Sprintf("Worked out for note %d of %d. ", told[0]+1, len(r.Notes))
	}
	return which + "The lower line should lie on the noise wherever only echoes sound." + capital(when+what, when == "") + verdict
}

// capital makes a sentence begin where it does.
func capital(words string, first bool) string {
	if !first || len(words) < 2 {
		return words
	}
	return " W" + words[2:]
}
