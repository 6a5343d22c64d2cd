package compare

import (
	"fmt"
	"math"

	"echowright/preset"
)

// A Take is a recording: one slice a channel, all of one length, full scale 1.
type Take struct {
	Rate     preset.Hertz
	Channels [][]float64
	// Dry is the number, from 1, of the channel that holds the direct sound alone;
	// 0 if it is mixed with the echoes.
	Dry int
	// Bits of a sample, by which the floor of what can be told is known; 0 for
	// floating point.
	Bits int
}

// Reason is why two takes cannot be compared.
type Reason string

// The reasons.
const (
	Silence   Reason = "silence"
	NotFinite Reason = "not finite"
	TooShort  Reason = "too short"
	NoMatch   Reason = "no match"
)

var advice = map[Reason]string{
	Silence:   "is silent: check which channel was recorded and its level",
	NotFinite: "holds values that are no sound: export it again as PCM, or repair the file",
	TooShort:  "is too short to be laid on another: record some tenths of a second at least",
	NoMatch:   "don't match: they are not of the same playing, so there is nothing to compare; play one dry take through both machines",
}

// A Refusal says that there is nothing to compare, and why.
type Refusal struct {
	Reason Reason
	Take   string // "A", "B", or "" for both
	Detail string // what was seen, with figures; may be empty
}

func (r *Refusal) Error() string {
	words := "the takes "
	if r.Take != "" {
		words = "take " + r.Take + " "
	}
	words += advice[r.Reason]
	if r.Detail != "" {
		words += " (" + r.Detail + ")"
	}
	return words
}

// Limits of what is compared.
const (
	minRate   = 8000
	maxRate   = 384_000
	minLength = 0.1 // s
)

func (t Take) check(name string) error {
	rate := float64(t.Rate)
	switch {
	case math.IsNaN(rate) || rate < minRate || rate > maxRate:
		return fmt.Errorf("take %s: sample rate %v: takes from %d to %d Hz can be compared", name, t.Rate, minRate, maxRate)
	case len(t.Channels) == 0:
		return fmt.Errorf("take %s has no channel", name)
	case t.Dry < 0 || t.Dry > len(t.Channels) || t.Dry > 0 && len(t.Channels) < 2:
		return fmt.Errorf("take %s: dry channel %d of %d: another one must hold the machine", name, t.Dry, len(t.Channels))
	}
	sounds := false
	for c, x := range t.Channels {
		if len(x) != len(t.Channels[0]) {
			return fmt.Errorf("take %s: channel %d has %d samples, the first one %d", name, c+1, len(x), len(t.Channels[0]))
		}
		for i, v := range x {
			if math.IsNaN(v) || math.Abs(v) > 1e6 {
				return &Refusal{Reason: NotFinite, Take: name, Detail: fmt.Sprintf("channel %d, sample %d is %v", c+1, i, v)}
			}
			sounds = sounds || v != 0
		}
	}
	switch {
	case float64(len(t.Channels[0])) < minLength*rate:
		return &Refusal{Reason: TooShort, Take: name, Detail: fmt.Sprintf("it lasts %.0f ms", 1000*float64(len(t.Channels[0]))/rate)}
	case !sounds:
		return &Refusal{Reason: Silence, Take: name}
	}
	return nil
}

// guides are the channels by which takes are aligned: that of the direct sound,
// where there is one, as it went into both machines alike.
func (t Take) guides() [][]float64 {
	if t.Dry > 0 {
		return t.Channels[t.Dry-1 : t.Dry]
	}
	return t.Channels
}

// wet are the channels that are compared.
func (t Take) wet() [][]float64 {
	var all [][]float64
	for i, x := range t.Channels {
		if i != t.Dry-1 {
			all = append(all, x)
		}
	}
	return all
}

// clipped counts runs of three samples or more that stand still near full scale.
func (t Take) clipped() int {
	places := 0
	for _, x := range t.Channels {
		run := 1
		for i := 1; i < len(x); i++ {
			if x[i] != x[i-1] || math.Abs(x[i]) < 0.9 {
				run = 1
				continue
			}
			if run++; run == 3 {
				places++
			}
		}
	}
	return places
}

// floor is the mean square of the error that rounding to whole steps makes: a
// twelfth of a step's square. Of floating point it is that of 32 bits, whose
// mantissa has 24.
func (t Take) floor() float64 {
	bits := t.Bits
	if bits <= 0 {
		bits = 24
	}
	step := math.Pow(2, 1-float64(bits))
	return step * step / 12
}
