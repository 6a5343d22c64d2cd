package preset

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// A Suited is a tempo at which the heads of a unit, unaltered, lie near to note
// values.
type Suited struct {
	Tempo BPM
	// Misfit is the root mean square, over all heads alike, of how far each is off
	// its nearest note value in units of what can just be noticed at its delay: up
	// to 1, the whole sounds in time.
	Misfit float64
	Heads  []RetimedHead
}

// A TempoRange is a range of tempi, both ends with it.
type TempoRange struct{ From, To BPM }

// ParseTempoRange reads "90..140".
func ParseTempoRange(s string) (TempoRange, error) {
	low, high, ok := strings.Cut(s, "..")
	from, errFrom := strconv.ParseFloat(low, 64)
	to, errTo := strconv.ParseFloat(high, 64)
	if !ok || errFrom != nil || errTo != nil {
		return TempoRange{}, fmt.Errorf("tempi %q: write a range such as 90..140", s)
	}
	r := TempoRange{BPM(from), BPM(to)}
	return r, r.check()
}

func (r TempoRange) check() error {
	if err := CheckTempo(r.From); err != nil {
		return err
	}
	if err := CheckTempo(r.To); err != nil {
		return err
	}
	if r.From >= r.To {
		return fmt.Errorf("tempi %v to %v: the slower first, such as 90..140", float64(r.From), float64(r.To))
	}
	return nil
}

// BestTempi are the tempi of the range that suit the unit best: the local optima
// of [Suited.Misfit], the best first, most of them at the most. An end of the
// range counts where the misfit still falls towards it.
//
// With the notes q (in beats) held fast, the misfit is a parabola of the beat's
// length b, since each head d is off by d − q·b; its lowest point is
// Σ w·d·q / Σ w·q² with the weights w = 1/JND(d)². Which note is the nearest
// changes along the range, so it is walked in steps much finer than what can be
// noticed, and each dip is then solved for exactly.
func BestTempi(u Unit, r TempoRange, notes []Note, most int) ([]Suited, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	if len(notes) == 0 {
		return nil, errNoNotes
	}
	const step = 1.001 // a twenty-fifth of the 2.5 % that can be noticed
	shortest, longest := 60_000/float64(r.To), 60_000/float64(r.From)
	steps := int(math.Ceil(math.Log(longest/shortest) / math.Log(step)))
	beats, misfits := make([]float64, steps+1), make([]float64, steps+1)
	for i := range beats {
		beats[i] = min(longest, shortest*math.Pow(step, float64(i)))
		misfits[i] = misfitAt(u, beats[i], notes)
	}
	var all []Suited
	for i := range beats {
		if misfits[i] > misfits[max(0, i-1)] || misfits[i] > misfits[min(steps, i+1)] {
			continue
		}
		tempo := TempoOf(Millis(settledBeat(u, beats[i], shortest, longest, notes)))
		if !slices.ContainsFunc(all, func(s Suited) bool { return math.Abs(float64(s.Tempo/tempo)-1) < step-1 }) {
			all = append(all, suited(u, tempo, notes))
		}
	}
	slices.SortStableFunc(all, func(a, b Suited) int {
		const alike = 1e-9 // rounding alone must not decide
		if d := a.Misfit - b.Misfit; math.Abs(d) > alike {
			return int(math.Copysign(1, d))
		}
		return int(math.Copysign(1, float64(a.Tempo-b.Tempo)))
	})
	return all[:min(most, len(all))], nil
}

func suited(u Unit, tempo BPM, notes []Note) Suited {
	s := Suited{Tempo: tempo}
	for _, h := range u.Heads {
		note, off := NearestNote(h.Delay, tempo, notes)
		s.Heads = append(s.Heads, RetimedHead{Head: h.Head, Delay: h.Delay, Note: note.String(), Off: off})
	}
	s.Misfit = misfitAt(u, 60_000/float64(tempo), notes)
	return s
}

func misfitAt(u Unit, beat float64, notes []Note) float64 {
	sum := 0.0
	for _, h := range u.Heads {
		_, off := NearestNote(h.Delay, TempoOf(Millis(beat)), notes)
		v := float64(off / TimingJND(h.Delay))
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(u.Heads)))
}

// settledBeat goes down to the bottom of the dip at beat. Each turn lowers the
// misfit or leaves it, so it comes to rest; the notes change seldom, and the count
// is only there for rounding.
func settledBeat(u Unit, beat, shortest, longest float64, notes []Note) float64 {
	for range 20 {
		var dq, qq float64
		for _, h := range u.Heads {
			note, _ := NearestNote(h.Delay, TempoOf(Millis(beat)), notes)
			w, q := 1/math.Pow(float64(TimingJND(h.Delay)), 2), note.Quarters()
			dq += w * float64(h.Delay) * q
			qq += w * q * q
		}
		next := min(longest, max(shortest, dq/qq))
		if next == beat {
			break
		}
		beat = next
	}
	return beat
}
