package measure

import (
	"fmt"
	"math"
	"slices"
)

const (
	// The channels are taken for exchanged where echoes of the one in the other stand
	// so many times above chance, and so many times more than the other way round;
	// what stands so clearly the right way round needs no other look.
	exchangedClear = 20.0
	exchangedMore  = 3.0
	exchangedNever = 60.0

	soundsAbove   = 10.0 // times the noise
	doubtfulLevel = 1.5  // dB of a head's deviation: it may as well not be there
	alikeRatios   = 0.05 // by which ratios may differ that are one
	leastInDry    = 0.02 // amplitude of echoes in the dry channel that are told
	worthNaming   = 0.5  // share of the rest that a head more must leave to be told of
	singingTail   = 0.05 // of the loudest power, at the end of the take
)

// refusal is why what is seen cannot be measured, nil if it can.
func (c channels) refusal(s sight, heads int) error {
	echoes, _ := s.split()
	switch {
	case c.exchanged(s):
		return &Refusal{Reason: WrongChannel, Detail: "the dry channel is the echo of the other: the channels are exchanged"}
	case len(echoes) == 0 && len(s.arrivals) > 0:
		return &Refusal{Reason: NoEcho, Detail: "the wet channel holds the direct sound only"}
	case len(echoes) == 0 && c.wetSounds():
		return &Refusal{Reason: OtherTake, Detail: "nothing of the dry channel comes back in the wet one: are they of one take?"}
	case len(echoes) == 0:
		return &Refusal{Reason: NoEcho, Detail: "the wet channel holds only noise"}
	case len(echoes) < heads:
		return &Refusal{Reason: FewerEchoes, Detail: fmt.Sprintf("%d heads named, %d echoes found", heads, len(echoes))}
	}
	return nil
}

// exchanged tells whether the dry channel is rather the echo of the wet one.
func (c channels) exchanged(s sight) bool {
	forth, _ := s.split()
	there := 0.0
	if len(forth) > 0 {
		there = math.Abs(forth[0].amp) / s.chance
	}
	if there > exchangedNever {
		return false
	}
	c.dry, c.wet = c.wet, c.dry
	c.dryNoise = 0
	other := c.look(sightHigh)[0]
	back, _ := other.split()
	if len(back) == 0 {
		return false
	}
	clear := math.Abs(back[0].amp) / other.chance
	return clear > exchangedClear && clear > exchangedMore*there
}

func (c channels) wetSounds() bool {
	levels := blockLevels(c.wet, int(levelBlock*c.rate))
	return quantile(levels, 1) > soundsAbove*quantile(levels, quietShare)
}

// refusal is why an explanation is none, nil if it is one.
func (e explanation) refusal(heads int) error {
	switch share := e.explained(); {
	case share < leastExplained && e.unnamed > 0:
		return &Refusal{Reason: MoreEchoes, Detail: e.unnamedWords()}
	case share < leastExplained && !e.c.wetSounds():
		return &Refusal{Reason: NoEcho, Detail: "the wet channel holds only noise"}
	case share < leastExplained:
		return &Refusal{Reason: OtherTake, Detail: fmt.Sprintf(
			"no more than %.0f %% of the wet channel can be made of the dry one: are they of one take?", 100*math.Max(0, share))}
	}
	if heads > 0 && e.silent > 0 {
		return &Refusal{Reason: FewerEchoes, Detail: fmt.Sprintf("%d heads named, and no more than %d of them sound", heads, heads-e.silent)}
	}
	if share, heads := e.unit.inDry(); heads > 1 {
		return &Refusal{Reason: WrongChannel, Detail: fmt.Sprintf("the dry channel holds echoes too, %.0f dB below the machine's own", -decibels(share))}
	}
	return nil
}

// doubtfulHeads is how many heads may as well not be there.
func (e explanation) doubtfulHeads() int {
	n, count := len(e.unit.delay), 0
	for _, sd := range e.told.sd[n : 2*n] {
		if sd > doubtfulLevel {
			count++
		}
	}
	return count
}

// inDry is how strongly the dry channel holds the machine's echoes, as an amplitude
// ratio to those of the wet one, and how many heads say so. Such a take looks as if
// every head fed the loop, inverted, in proportion to what is heard of it; the loop
// proper adds to that at the heads that feed it.
func (u still) inDry() (share float64, heads int) {
	for k, on := range u.feeds {
		if !on {
			continue
		}
		r := -u.fed[k] / u.gain[k]
		n := 0
		for j, also := range u.feeds {
			if also && math.Abs(-u.fed[j]/u.gain[j]-r) < alikeRatios*r {
				n++
			}
		}
		if r > leastInDry && n > heads {
			share, heads = r, n
		}
	}
	return share, heads
}

// findUnnamed looks whether a head more than were named explains much of what is
// left, and where it would stand.
func (e *explanation) findUnnamed(s *spectra, seen []sight) {
	n := len(e.unit.delay)
	s.assume(math.Max(e.c.wetNoise, 1e-4*meanSquare(e.c.wet)))
	plain, more := s.begin(seen, n), s.begin(seen, n+1)
	if more.cost > worthNaming*plain.cost {
		return
	}
	for _, d := range more.unit.delay {
		if !slices.ContainsFunc(plain.unit.delay, func(t float64) bool { return math.Abs(t-d) < delayReach }) {
			e.unnamed = d
			return
		}
	}
}

func (e explanation) unnamedWords() string {
	return fmt.Sprintf("one more sounds at about %.0f ms", 1000*e.unnamed)
}
