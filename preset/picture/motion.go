package picture

import (
	"math"
	"slices"
	"strings"

	"echowright/preset"
)

// Motion shows how the speed of the machine wavers.
type Motion struct {
	Take    Take            // its onset, and how long it is
	Notes   []preset.Millis // where notes begin, from the first sample; nil in a steady tone
	Speed   []float64       // in percent off the mean, from the first sample on; NaN where nothing tells
	Step    preset.Millis   // of Speed
	Figures *preset.Motion  // nil where there are none
	Through preset.Millis   // the delay that a tone went through while the speed wavered, 0 if it came from elsewhere
}

func (m Motion) draw(s *sheet) {
	s.heading("The motion of the machine")
	from, to := m.timeline()
	since := moment(len(m.Notes))
	if m.Notes == nil {
		since = "the take's beginning"
	}
	x, at := clock(since, from, to)
	f := s.frame(150, x, m.scale())
	for _, n := range m.Notes {
		f.upright(at(n-m.Take.Onset), black, 1, dotted)
	}
	f.level(0, black, 1, dotted)
	times, speed := m.thinned()
	for i := range times {
		times[i] = at(preset.Millis(times[i]) - m.Take.Onset)
	}
	f.curve("speed", times, speed, firstHeadInk, 2, whole)
	s.caption(m.words())
}

func (m Motion) timeline() (from, to preset.Millis) {
	if m.Notes == nil {
		return -m.Take.Onset, max(1, preset.Millis(len(m.Speed))*m.Step) - m.Take.Onset
	}
	return timeline(m.Take, len(m.Notes))
}

// thinned is the speed with no more values than can be seen apart: of each stretch
// the least and the greatest, as they come.
func (m Motion) thinned() (times, speed []float64) {
	const most = 2 * wide
	per := 1
	if len(m.Speed) > most {
		per = int(math.Ceil(2 * float64(len(m.Speed)) / most))
	}
	for i := 0; i < len(m.Speed); i += per {
		least, greatest := i, i
		for k := i; k < min(len(m.Speed), i+per); k++ {
			if !(m.Speed[k] >= m.Speed[least]) {
				least = k
			}
			if !(m.Speed[k] <= m.Speed[greatest]) {
				greatest = k
			}
		}
		for _, k := range slices.Compact([]int{min(least, greatest), max(least, greatest)}) {
			times, speed = append(times, (float64(k)+0.5)*float64(m.Step)), append(speed, m.Speed[k])
		}
	}
	return times, speed
}

func (m Motion) scale() scale {
	most := 0.01
	if s, ok := spanOf(m.Speed); ok {
		most = math.Max(most, 1.15*math.Max(math.Abs(s.low), math.Abs(s.high)))
	}
	return linear("speed in %, off its mean", -most, most, 5)
}

func (m Motion) words() string {
	words := "Above the middle the machine runs fast and sounds sharp, below it slow and flat; a gap is where the sound tells nothing. " +
		"6 % is a semitone, 0.06 % a hundredth of one."
	if m.Through > 0 {
		words = "The tone went in and came out in one pass: what is drawn is how far the speed differs from that of " +
			fixed(float64(m.Through), 0) + " ms before, not the speed itself. " + words
	}
	if m.Figures == nil {
		return words
	}
	var found []string
	if f := m.Figures; f.WowPercent > 0 {
		found = append(found, "wow "+fixed(float64(f.WowPercent), 2)+" % at "+fixed(float64(f.WowHz), 2)+" Hz")
	}
	if f := m.Figures; f.FlutterPercent > 0 {
		found = append(found, "flutter "+fixed(float64(f.FlutterPercent), 2)+" % at "+fixed(float64(f.FlutterHz), 2)+" Hz")
	}
	if found == nil {
		return words
	}
	return "Found: " + strings.Join(found, ", ") + " (to each side of the mean). " + words
}
