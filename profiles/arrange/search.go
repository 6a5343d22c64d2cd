package arrange

import (
	"cmp"
	"math"
	"slices"

	"echowright/preset"
	"echowright/profiles"
)

// A search is the way from choices of voices to the draft of the least error.
type search struct {
	deck  *deck
	wish  *wish
	ear   *ear
	whole bool // but for rounding, the device gives the whole pattern
	most  int  // the work that the ear may do until the lines are in place
}

// A draft is voices on lines, put into codes.
type draft struct {
	lines   []voice   // line i of the device plays lines[i]; sources are such places too
	levels  []int     // their places on the ladder of levels
	ideal   []float64 // what these would be without rounding; nil: whatever fits best
	setting profiles.Setting
	shift   preset.Decibels
	cost    float64 // squared error over squared wish
	still   bool    // levels stay at the rungs nearest to ideal
	worst   float64 // see truest
	finer   float64 // what the pattern error does not see, see choice
}

const (
	// The work of an ear until lines are in place, and for polishing one draft:
	// together some 70 ms.
	mostWork   = 3_000_000
	polishWork = 500_000
	// How many of the best choices are put into codes, rearranged, and polished.
	mostDrafts     = 16
	mostRearranged = 5
	mostPolished   = 3
	// An error below this (−40 dB) is rounding: no line is then put to another use, and
	// nothing moves by more than a step. What two lines that nearly coincide could win
	// by trading levels nobody hears. (Not so on a device whose times are so far apart
	// that no two lines nearly coincide.)
	onlyRounding = 1e-4
	coarseStep   = 6.0 // ms
	// Other uses of lines must make the error this much smaller.
	worthUse = 0.9985
	// Errors that differ by less than this share are the same.
	better = 1 - 1e-6
)

func newSearch(k *deck, w *wish) *search {
	return &search{deck: k, wish: w, ear: newEar(w), most: mostWork}
}

// best is the draft of the least cost; with nothing to choose from, silence. Where
// the best choices leave more than rounding, lines are put to other uses too.
func (x *search) best() draft {
	drafts := x.drafts()
	if len(drafts) == 0 {
		return draft{setting: x.deck.device.Rest(), cost: 1}
	}
	if x.whole && !x.deck.coarse {
		return x.truest(drafts[0])
	}
	done := x.polished(drafts[:min(mostPolished, len(drafts))])
	if done[0].cost <= x.deck.roundingCost() {
		return done[0]
	}
	if x.deck.coarse {
		drafts = append(drafts, x.grown()...)
		sortDrafts(drafts)
	}
	var others []draft
	most := mostRearranged
	if x.deck.coarse {
		most *= 4
	}
	for _, d := range drafts[:min(most, len(drafts))] {
		if d = x.rearranged(d); !slices.ContainsFunc(others, d.same) {
			others = append(others, d)
		}
	}
	sortDrafts(others)
	others[0] = x.detoured(others[0])
	others = x.polished(others[:min(most, len(others))])
	if others[0].cost < done[0].cost*worthUse {
		return others[0]
	}
	return done[0]
}

// polished is the drafts with their levels set and every code polished, the best first.
func (x *search) polished(drafts []draft) []draft {
	var done []draft
	for _, d := range drafts {
		for _, other := range x.otherLoops(d) {
			x.setLevels(&other)
			x.polish(&other)
			done = append(done, other)
		}
	}
	sortDrafts(done)
	return done
}

// drafts are the best choices put into codes, the best first: of those that look
// best before rounding, and, if rounding is not all there is to it, of those that
// look best after it.
func (x *search) drafts() []draft {
	voices := x.deck.voices(x.wish)
	lines := len(x.deck.device.Lines)
	choices := x.wish.choose(voices, wanted, lines, mostDrafts)
	if x.whole = len(choices) > 0 && choices[0].cost-choices[0].finer < exactCost; x.whole {
		choices = choices[:1]
	}
	drafts := x.inCodes(voices, choices)
	if x.whole && !x.deck.coarse {
		return drafts
	}
	if len(drafts) > 0 && drafts[0].cost > x.deck.roundingCost() {
		drafts = append(drafts, x.inCodes(voices, x.wish.choose(voices, rounded, lines, mostDrafts))...)
		sortDrafts(drafts)
	}
	return drafts
}

func (x *search) inCodes(voices []voice, choices []choice) []draft {
	var drafts []draft
	for _, c := range choices {
		d := draft{lines: inOrder(voices, c.voices), finer: c.finer}
		if x.whole && !x.deck.coarse {
			d.ideal = idealLevels(voices, c, d.lines)
		}
		if len(c.voices) > 0 && x.fit(&d, math.Inf(1)) {
			drafts = append(drafts, d)
		}
	}
	sortDrafts(drafts)
	return drafts
}

// sortDrafts puts the best first; of equal ones the one that was found first.
func sortDrafts(drafts []draft) {
	slices.SortStableFunc(drafts, func(a, b draft) int { return cmp.Compare(a.cost+a.finer, b.cost+b.finer) })
}

// inOrder is the chosen voices sorted by their first echoes, sources renumbered.
func inOrder(voices []voice, chosen []int) []voice {
	order := slices.Clone(chosen)
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(voices[a].first, voices[b].first) })
	lines := make([]voice, len(order))
	for i, number := range order {
		lines[i] = voices[number]
		if s := lines[i].source; s != none {
			lines[i].source = slices.Index(order, s)
		}
	}
	return lines
}

// idealLevels are the levels of a choice, in the order of its lines.
func idealLevels(voices []voice, c choice, lines []voice) []float64 {
	levels := make([]float64, len(lines))
	order := slices.Clone(c.voices)
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(voices[a].first, voices[b].first) })
	for i, number := range order {
		levels[i] = c.levels[slices.Index(c.voices, number)] / voices[number].left
	}
	return levels
}

// levelsOf are the levels of a draft before rounding.
func (d *draft) levelsOf(all sums) []float64 {
	if d.ideal != nil {
		return d.ideal
	}
	return all.fit(upTo(len(d.lines)))
}

// fit finds the levels for the lines of a draft, rounded, if the error before
// rounding is below worth; false if it is not.
func (x *search) fit(d *draft, worth float64) bool {
	all, ok := x.sums(d)
	if !ok {
		return false
	}
	effort, chosen := x.effort(d), upTo(len(d.lines))
	levels := d.levelsOf(all)
	if all.cost(chosen, levels)+effort >= worth {
		return false
	}
	d.levels, d.cost = x.round(all, levels, 0, d.reach())
	d.cost += effort
	return d.cost < worth
}

func upTo(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}

// effort is what the lines of a draft cost: of two that are as good the one with
// fewer lines is taken.
func (x *search) effort(d *draft) float64 {
	sum := 0.0
	for _, v := range d.lines {
		sum += lineWorth
		if v.gain > 0 {
			sum += loopWorth
		}
	}
	return sum
}

// sums are the products for the lines of a draft, whose levels are then all that
// is open; false if the device cannot be set so, or nobody could list the echoes.
func (x *search) sums(d *draft) (sums, bool) {
	var err error
	if d.setting, err = x.deck.codes(d.lines); err != nil {
		return sums{}, false
	}
	x.ear.work += flowWork
	n, err := x.deck.device.Network(d.setting)
	if err != nil {
		return sums{}, false
	}
	gains := make([]float64, len(d.lines))
	for i := range gains {
		gains[i] = x.deck.loudest()
	}
	return x.ear.sums(n, gains)
}

// round puts levels (amplitudes on the pattern's scale) into codes, none farther
// than so many rungs from the nearest.
func (x *search) round(all sums, levels []float64, shift preset.Decibels, reach int) (places []int, cost float64) {
	ladder, louder := x.deck.level, 1/shift.Amplitude()
	if ladder == nil {
		ladder = []rung{{value: 1}}
	}
	r := rounding{sums: all, ladder: ladder, louder: louder, reach: reach}
	for _, l := range levels {
		place := ladder.nearest(l / louder)
		r.places = append(r.places, place)
		r.levels = append(r.levels, ladder[place].value*louder)
	}
	r.start = slices.Clone(r.places)
	return r.places, r.settle()
}

// putLevels sets the levels of a draft.
func (x *search) putLevels(d *draft) {
	for i, place := range d.levels {
		if x.deck.level != nil {
			x.deck.put(d.setting, i, profiles.RoleLevel, x.deck.level[place].code)
		}
	}
}

// same reports whether two drafts set the device alike, levels apart.
func (d draft) same(e draft) bool {
	return slices.EqualFunc(d.lines, e.lines, func(a, b voice) bool {
		return a.source == b.source && a.time == b.time && a.gain == b.gain && a.cut == b.cut && a.inverted == b.inverted
	})
}

// tired reports whether lines have been put to other uses for long enough.
func (x *search) tired() bool { return x.ear.work > x.most }
