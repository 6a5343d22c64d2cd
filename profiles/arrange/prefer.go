package arrange

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"echowright/preset"
	"echowright/profiles"
)

// A Preference says what is to be right where a device cannot give everything.
type Preference string

// The preferences.
const (
	Nearest  Preference = ""          // the least pattern error
	FirstSet Preference = "first-set" // the first echo of each head, even if repeats suffer
	Repeats  Preference = "repeats"   // the train that dies away, even if heads are missing
	Count    Preference = "count"     // as many of the echoes as can be had
)

// Preferences lists those that can be asked for, in the order in which help shows them.
func Preferences() []Preference { return []Preference{FirstSet, Repeats, Count} }

// ArrangeFor is [Arrange] with a preference for where there is a choice. Where the
// device gives everything but for rounding there is none.
func ArrangeFor(p preset.Pattern, d *profiles.Device, prefer Preference) (Result, error) {
	if prefer != Nearest && !slices.Contains(Preferences(), prefer) {
		return Result{}, fmt.Errorf("preference %q: there are %q", prefer, Preferences())
	}
	k, err := newDeck(d)
	if err != nil {
		return Result{}, err
	}
	w, err := newWish(p)
	if err != nil {
		return Result{}, fmt.Errorf("pattern: %w", err)
	}
	nearest := k.solve(w)
	chosen := k.preferred(w, nearest, prefer)
	r, err := k.result(w, chosen)
	if err != nil {
		return Result{}, err
	}
	k.tellChoice(w, &r, nearest, chosen, prefer)
	return r, nil
}

// solve is the draft of the least error, whatever the device's structure.
func (k *deck) solve(w *wish) draft {
	if !k.tapped {
		return newSearch(k, w).best()
	}
	s := newTapSearch(k, w).best()
	return draft{setting: s.setting, shift: s.shift, cost: s.cost}
}

// preferred is the draft that does best what is preferred: of the nearest, and of
// those that are nearest to a part of the pattern.
func (k *deck) preferred(w *wish, nearest draft, prefer Preference) draft {
	if prefer == Nearest || nearest.cost <= onlyRounding {
		return nearest
	}
	all := []draft{nearest}
	for _, part := range w.parts() {
		if v, err := newWish(part); err == nil {
			all = append(all, k.solve(v))
		}
	}
	losses := make([]loss, len(all))
	best := 0
	for i, d := range all {
		losses[i] = k.lossOf(w, d)
		if losses[i].compare(losses[best], prefer) < 0 {
			best = i
		}
	}
	return all[best]
}

// parts are patterns that ask for less: the first set alone, and the loop's heads
// with their repeats.
func (w *wish) parts() []preset.Pattern {
	if len(w.returns) == 0 {
		return nil
	}
	first, train := w.pattern, w.pattern
	first.Returns = nil
	train.Taps = nil
	for _, r := range w.returns {
		if t, ok := w.heard(r.Head); ok {
			train.Taps = append(train.Taps, t)
		}
	}
	loudest := w.pattern
	loudest.Taps = w.loudest(1)
	return []preset.Pattern{first, train, loudest}
}

// A loss is what a draft lacks of the wish: squared amplitudes that are wrong, of
// first echoes and of repeats, each over the whole of its kind, and echoes missing.
type loss struct {
	first, repeats   float64
	missing, unasked int
	all              float64
}

func (k *deck) lossOf(w *wish, d draft) loss {
	got, err := k.listen(d, w.limit)
	if err != nil {
		return loss{first: math.Inf(1), repeats: math.Inf(1), missing: len(w.train), all: math.Inf(1)}
	}
	pairs, extra := match(w.train, got)
	l := loss{unasked: len(extra), all: float64(w.error(got))}
	var first, repeats float64
	for _, p := range pairs {
		want, have := p.wanted.Level.Amplitude(), 0.0
		if p.got != nil {
			have = p.got.Level.Amplitude()
		} else {
			l.missing++
		}
		if p.wanted.Turn == 0 {
			first += want * want
			l.first += (want - have) * (want - have)
			continue
		}
		repeats += want * want
		l.repeats += (want - have) * (want - have)
	}
	if first > 0 {
		l.first /= first
	}
	if repeats > 0 {
		l.repeats /= repeats
	}
	return l
}

// compare is below 0 if the loss is the lesser one: by what is preferred, to a tenth
// of a decibel or so, and then by the pattern error.
func (l loss) compare(m loss, prefer Preference) int {
	by := 0
	switch prefer {
	case FirstSet:
		by = compareShares(l.first, m.first)
	case Repeats:
		by = compareShares(l.repeats, m.repeats)
	case Count:
		by = cmp.Compare(l.missing, m.missing)
	}
	if by == 0 {
		by = cmp.Compare(l.all, m.all)
	}
	return by
}

// compareShares takes shares that differ by less than rounding does for the same.
func compareShares(a, b float64) int {
	if math.Abs(a-b) <= 1e-3+0.02*max(a, b) {
		return 0
	}
	return cmp.Compare(a, b)
}

// tellChoice tells what a preference gives up, or that there is a choice.
func (k *deck) tellChoice(w *wish, r *Result, nearest, chosen draft, prefer Preference) {
	if nearest.cost <= onlyRounding || len(w.returns) == 0 {
		return
	}
	here := k.lossOf(w, chosen)
	if prefer == Nearest {
		if here.missing > 0 {
			r.Warnings = append(r.Warnings, "there is a choice of what to give up: first-set keeps the first echo of each head right, repeats the train that dies away, count as many echoes as can be had")
		}
		return
	}
	there := k.lossOf(w, nearest)
	r.Warnings = append(r.Warnings, fmt.Sprintf("preferred: %s; the first echoes are %s off as a whole, the repeats %s, %s missing; the nearest to all of the pattern has %s, %s and %s",
		prefer, db(share(here.first)), db(share(here.repeats)), echoes(here.missing),
		db(share(there.first)), db(share(there.repeats)), echoes(there.missing)))
}

// share is a share of energy in dB.
func share(v float64) preset.Decibels {
	return preset.Decibels(10 * math.Log10(max(v, 1e-12)))
}
