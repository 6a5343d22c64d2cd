package compare

import (
	"errors"
	"math"
	"slices"

	"echowright/preset"
	"echowright/preset/measure"
)

// Source is how echoes were found.
type Source string

// The sources.
const (
	Measured Source = "measured units"
	Windows  Source = "correlation windows"
)

// LevelJND is the least difference in level that is heard: the rule of thumb for
// sounds of middling loudness (common practice, no source).
const LevelJND preset.Decibels = 1

// An Echo is one echo of A and what became of it in B. At and Level are after the
// direct sound and to it; measured levels hold at 1 kHz. Deviations are of the
// differences, from those of both takes; 0 where they are not known.
type Echo struct {
	Head, Turn int // 0 where not known; Turn counts how often it went round before
	At         preset.Millis
	Level      preset.Decibels
	Missing    bool // nothing of it is heard in B
	Delta      preset.Millis
	DeltaSD    preset.Millis
	DeltaDB    preset.Decibels
	DeltaDBSD  preset.Decibels
}

// TimingJND is how much later or earlier the echo would have to be to be noticed.
func (e Echo) TimingJND() preset.Millis { return preset.TimingJND(e.At) }

// Noticeable says whether the difference reaches what can be noticed.
func (e Echo) Noticeable() bool {
	return e.Missing || preset.Millis(math.Abs(float64(e.Delta))) >= e.TimingJND() || preset.Decibels(math.Abs(float64(e.DeltaDB))) >= LevelJND
}

// weakestEcho to the direct sound is what is compared: below, noise and the
// echoes' own tails decide.
const weakestEcho preset.Decibels = -40

// echoes compares the echoes, by measuring both units if their heads are known.
func (r *Result) echoes(a, b Take, f fit, o Options) error {
	if len(o.Heads) > 0 {
		err := r.measureBoth(a, b, o)
		var refusal *measure.Refusal
		if !errors.As(err, &refusal) {
			return err
		}
		r.warn("the units cannot be measured from these takes: "+refusal.Error(), "echoes are compared where they stand out of the first note's response")
	}
	r.From = Windows
	if o.Steps != nil { // bursts of one tone are no notes
		return nil
	}
	r.Echoes = r.byWindows(a, f)
	if len(r.Echoes) == 0 {
		r.warn("no single echoes stand out of these takes", "record one short, damped note, name the heads with --heads, or have the direct sound in a channel of its own")
	}
	return nil
}

func (r *Result) measureBoth(a, b Take, o Options) error {
	var results [2]measure.Result
	for i, t := range []Take{a, b} {
		m, err := measure.Heads(t.measured(), measure.Options{Heads: o.Heads, Progress: func(done float64) {
			o.progress(0.4 + 0.3*(float64(i)+done))
		}})
		if err != nil {
			return err
		}
		for _, w := range m.Warnings {
			r.warn("take "+string(rune('A'+i))+": "+w.What, w.Do)
		}
		results[i] = m
	}
	r.From, r.UnitA, r.UnitB = Measured, &results[0].Unit, &results[1].Unit
	r.Echoes = paired(results[0].Echoes, results[1].Echoes)
	return nil
}

// paired sets each echo of a beside that of b which left by the same head after as
// many turns; where there are several, in their order.
func paired(a, b []measure.Echo) []Echo {
	type way struct{ head, turn, nth int }
	of := make(map[way]measure.Echo)
	number := func(all []measure.Echo, see func(way, measure.Echo)) {
		count := make(map[way]int)
		for _, e := range all {
			w := way{head: e.Head, turn: e.Turn}
			n := count[w]
			count[w]++
			w.nth = n
			see(w, e)
		}
	}
	number(b, func(w way, e measure.Echo) { of[w] = e })
	var all []Echo
	number(a, func(w way, e measure.Echo) {
		if e.Level < weakestEcho {
			return
		}
		one := Echo{Head: e.Head, Turn: e.Turn, At: e.At, Level: e.Level, Missing: true}
		if other, ok := of[w]; ok {
			one.Missing = false
			one.Delta, one.DeltaDB = other.At-e.At, other.Level-e.Level
			one.DeltaSD = preset.Millis(math.Hypot(float64(e.SD), float64(other.SD)))
			one.DeltaDBSD = preset.Decibels(math.Hypot(float64(e.LevelSD), float64(other.LevelSD)))
		}
		all = append(all, one)
	})
	slices.SortStableFunc(all, func(p, q Echo) int {
		if p.At < q.At {
			return -1
		}
		return 1
	})
	return all
}
