package measure

import (
	"fmt"
	"math"
	"slices"

	"echowright/preset"
)

// mostNotes of a take are measured: more would tell little more.
const mostNotes = 6

// noteFit is the fit of one note of the take.
type noteFit struct {
	onset preset.Millis
	heard float64 // s from its onset to the next note, or the end of the take
	account
}

// pooled puts the fits of several notes into one result: the note that is
// explained best stands for everything, and where others agree with it on the
// loop, delays, levels and gain are the means of all. Heads that sound though they
// were not named are left out at last.
func pooled(fits []noteFit, named []int) Result {
	best := slices.MinFunc(fits, func(a, b noteFit) int { return compareFloat(a.beyond(), b.beyond()) })
	heads := best.numbers(named)
	r := best.result(heads)
	r.Warnings = append(r.Warnings, best.remarks...)
	r.Warnings = append(r.Warnings, best.coverDoubts()...)
	r.Warnings = append(r.Warnings, best.feedDoubts(heads, best.heard)...)
	var alike []preset.Unit
	for _, f := range fits {
		one := f.result(heads).Unit
		r.Onsets = append(r.Onsets, f.onset)
		r.Notes = append(r.Notes, Note{Onset: f.onset, Heads: one.Heads, Feedback: one.Feedback})
		if slices.Equal(f.machine.feeds, best.machine.feeds) && f.beyond() < best.beyond()+alikeBy {
			alike = append(alike, one)
		}
	}
	if len(fits) > 1 {
		r.pool(alike, len(fits))
	}
	r.leaveOutUnnamed()
	r.Echoes = echoesOf(r.Unit)
	r.Left, r.LeftStep = best.left(), leftStep
	if r.Speed = speeds(fits); r.Speed != nil {
		r.SpeedStep = trackStep
	}
	return r
}

// alikeBy is by how much worse, dB, a note may be explained to count.
const alikeBy = 10

func compareFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// pool replaces the figures of r by the means of units, whose spread tells their
// uncertainty better than one fit does.
func (r *Result) pool(units []preset.Unit, all int) {
	n := len(units)
	if n < all {
		r.Warnings = append(r.Warnings, Warning{
			What: fmt.Sprintf("%d of %d notes tell something else and were left out", all-n, all),
			Do:   "play every note alike, and let the echoes die away before the next",
		})
	}
	moved := 0.0
	for k := range r.Unit.Heads {
		h := &r.Unit.Heads[k]
		delay, delaySD, spread := mean(units, func(u preset.Unit) (float64, float64) {
			return float64(u.Heads[k].Delay), float64(u.Heads[k].DelaySD)
		})
		level, levelSD, _ := mean(units, func(u preset.Unit) (float64, float64) {
			return float64(u.Heads[k].Level), float64(u.Heads[k].LevelSD)
		})
		h.Delay, h.DelaySD = preset.Millis(delay), preset.Millis(math.Max(delaySD, leastDelaySD))
		h.Level, h.LevelSD = preset.Decibels(level), preset.Decibels(math.Max(levelSD, leastLevelSD))
		moved = math.Max(moved, spread)
	}
	r.level()
	if f := r.Unit.Feedback; f != nil {
		gain, sd, _ := mean(units, func(u preset.Unit) (float64, float64) {
			return float64(u.Feedback.Gain), float64(u.Feedback.GainSD)
		})
		f.Gain, f.GainSD = preset.Decibels(gain), preset.Decibels(math.Max(sd, leastLevelSD))
	}
	direct, _, _ := mean(units, func(u preset.Unit) (float64, float64) { return float64(u.Direct.EchoToDirect), 0 })
	r.Unit.Direct.EchoToDirect = preset.Decibels(direct)
	if moved > muchSpread {
		r.Warnings = append(r.Warnings, Warning{
			What: fmt.Sprintf("the delays differ by %.2f ms (standard deviation) from note to note", moved),
			Do:   "let the machine warm up, and look after its belt and pinch roller",
		})
	}
}

// muchSpread of a delay over the notes, ms, deserves a word.
const muchSpread = 0.2

// level makes the loudest head 0 dB again, which means of levels need not be, and
// tells where it lay.
func (r *Result) level() preset.Decibels {
	top := r.Unit.Heads[0].Level
	for _, h := range r.Unit.Heads {
		top = max(top, h.Level)
	}
	for k := range r.Unit.Heads {
		r.Unit.Heads[k].Level -= top
	}
	return top
}

// mean of a figure over units, its standard deviation (from the spread, or from
// the figures' own where that is more), and the spread.
func mean(units []preset.Unit, figure func(preset.Unit) (value, sd float64)) (middle, sd, spread float64) {
	n := float64(len(units))
	own := 0.0
	for _, u := range units {
		v, s := figure(u)
		middle += v / n
		own += s * s / (n * n)
	}
	if n < 2 {
		return middle, math.Sqrt(own), 0
	}
	for _, u := range units {
		v, _ := figure(u)
		spread += (v - middle) * (v - middle) / (n - 1)
	}
	spread = math.Sqrt(spread)
	return middle, math.Max(math.Sqrt(own), spread/math.Sqrt(n)), spread
}
