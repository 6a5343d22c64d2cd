package measure

import (
	"math"
	"slices"
)

// An account is what a note tells of the heads that were named: a fit, which of its
// heads they are, and what is doubtful about that.
type account struct {
	fitted
	unnamed []int // heads that sound though nobody named them, of those fitted
	remarks []Warning
}

// alike is a note's account in which the same heads are named as in the notes before.
func (a account) alike(before []noteFit) account {
	if len(before) > 0 {
		a.unnamed, a.remarks = before[0].unnamed, before[0].remarks
	}
	return a
}

const (
	// Heads that leave no more than this more, dB, than a greater number of them
	// explain the take as well.
	fewerWillDo = 4
	// One head more has to leave so much less, dB, to be said to sound.
	moreAreNeeded = 6
	// What is fainter than this to the loudest head, dB, has to show that it is there.
	faintHead = -20
	// A head that is missed by nobody is none, if it is fainter than this, dB, or its
	// level no better known than this.
	phantomLevel   = -40
	phantomLevelSD = 3
	// Attempts at a number of heads that was not named.
	mostQuickStarts = 2
)

// account fits as many heads as were named to a note, 0 for as many as are heard,
// and looks whether fewer would do, and whether more sound. The error is a refusal.
func (b bench) account(h heard, named int, progress func(float64)) (account, error) {
	guess := h.count()
	heads := named
	if named == 0 {
		heads = guess
	}
	if guess < heads {
		if few, ok := b.quick(h, guess); ok && few.trusted(h) == nil {
			return b.orFewer(h, few, heads)
		}
	}
	starts := h.starts(heads)
	if len(starts) == 0 {
		return account{}, h.tooFew(heads)
	}
	f := b.refine(starts, h.rumours(), progress)
	if guess > heads && f.beyond() > unexplained {
		if more, ok := b.quick(h, guess); ok && more.beyond() < f.beyond()-moreAreNeeded && more.trusted(h) == nil {
			return f.among(more), nil
		}
	}
	if err := f.trusted(h); err != nil {
		return account{}, err
	}
	real := f.withoutPhantoms()
	switch lost := len(f.machine.delay) - len(real.machine.delay); {
	case lost == 0 || named == 0:
		return account{fitted: real}, nil
	default:
		return account{}, real.fewerThan(named)
	}
}

// quick fits so many heads as nobody named, without much ado; ok is false if that
// does not explain the take.
func (b bench) quick(h heard, heads int) (f fitted, ok bool) {
	starts := h.starts(heads)
	for _, g := range starts[:min(len(starts), mostQuickStarts)] {
		if a := b.try(g, b.attacks(g)); a.good() {
			return b.finish(a.take.withoutWeakLoop()), true
		}
	}
	return fitted{}, false
}

// orFewer decides between the heads named and fewer of them, few, which explain the
// take: the named ones stand if every one of them is there as far as can be told.
func (b bench) orFewer(h heard, few fitted, named int) (account, error) {
	all, ok := b.quick(h, named)
	if !ok && few.beyond() > unexplained {
		if starts := h.starts(named); len(starts) > 0 {
			all, ok = b.refine(starts, h.rumours(), func(float64) {}), true
		}
	}
	gained := few.beyond() - all.beyond()
	switch {
	case !ok || gained < -0.5 || len(all.withoutPhantoms().machine.delay) < named:
		return account{}, few.fewerThan(named)
	case gained < fewerWillDo:
		return account{fitted: all, remarks: []Warning{few.wouldDo(named)}}, nil
	}
	return account{fitted: all}, nil
}

// trusted is nil if the fit has found an echo, else the refusal.
func (f fitted) trusted(h heard) error {
	told := f.told()
	if told < fewEcho && f.quiet() || told < noEcho && h.loudest() < outspoken || told < nothing {
		return noEchoBy(told)
	}
	return nil
}

// among tells which of more heads are those that were named: the ones that a fit of
// so few has found, or else the loudest.
func (f fitted) among(more fitted) account {
	all := make([]arrival, len(more.machine.delay))
	for k, d := range more.machine.delay {
		all[k] = arrival{at: d, amp: more.machine.gain[k]}
	}
	var named []int
	for _, d := range f.machine.delay {
		if k := matching(all, d); k >= 0 && !slices.Contains(named, k) {
			named = append(named, k)
		}
	}
	byLevel := slices.SortedStableFunc(slices.Values(upTo(len(all))), func(i, j int) int {
		return compareFloat(math.Abs(all[j].amp), math.Abs(all[i].amp))
	})
	for _, k := range byLevel {
		if len(named) < len(f.machine.delay) && !slices.Contains(named, k) {
			named = append(named, k)
		}
	}
	a := account{fitted: more}
	for k := range all {
		if !slices.Contains(named, k) {
			a.unnamed = append(a.unnamed, k)
		}
	}
	a.remarks = a.moreSound()
	return a
}

func upTo(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}

// withoutPhantoms leaves out heads that the sound can do without: a fit that may
// play more heads than there are puts one where noise or the note's end likes it.
func (f fitted) withoutPhantoms() fitted {
	for len(f.machine.delay) > 1 {
		values, n := f.figures(), len(f.machine.delay)
		faint := 0
		for k := range n {
			if values[n+k] < values[n+faint] {
				faint = k
			}
		}
		if values[n+faint] > faintHead {
			return f
		}
		if sd := f.deviations(values)[n+faint]; values[n+faint] > phantomLevel && sd < phantomLevelSD {
			return f
		}
		g := f.sound.fitTo(f.machine.without(faint), f.free, f.rung, rough)
		if g.residual > needless*f.residual {
			return f
		}
		g.white = f.white
		f = g
	}
	return f
}

// without is the machine with one head less.
func (m machine) without(head int) machine {
	m = m.clone()
	m.delay, m.gain = slices.Delete(m.delay, head, head+1), slices.Delete(m.gain, head, head+1)
	var feeds []int
	for _, k := range m.feeds {
		switch {
		case k < head:
			feeds = append(feeds, k)
		case k > head:
			feeds = append(feeds, k-1)
		}
	}
	m.feeds = feeds
	if len(feeds) == 0 {
		m.loop = 0
	}
	return m
}
