package measure

import (
	"fmt"
	"math"
	"strings"
)

// What is said where the heads named are not those that sound.

func noEchoBy(told float64) error {
	return &Refusal{Reason: NoEcho, Detail: fmt.Sprintf("what was tried explains %.0f %% of the take", 100*math.Max(0, told))}
}

// tooFew refuses a note in which there are fewer arrivals than heads.
func (h heard) tooFew(named int) error {
	found := h.arrivals()
	if math.Abs(found[0].amp) < quietest {
		return &Refusal{Reason: NoEcho, Detail: "nothing comes back louder than " + level(found[0].amp)}
	}
	return &Refusal{Reason: FewerEchoes, Detail: fmt.Sprintf("%s named, %d echoes found, repeats included", headCount(named), len(found))}
}

// fewerThan refuses a take that the heads of f explain, though more were named.
func (f fitted) fewerThan(named int) error {
	n := len(f.machine.delay)
	seen := fmt.Sprintf("%s named, %s: %s", headCount(named), soundsOf(n), f.heads(upTo(n)))
	if n == named-1 && f.echoesAlone() {
		return &Refusal{Reason: NoDirect, Detail: seen + " after the first sound, which is no brighter than they are and may be an echo itself: in that case these are the distances from the first head to the others"}
	}
	return &Refusal{Reason: FewerEchoes, Detail: seen}
}

// wouldDo is the doubt that fewer heads than named would explain the take.
func (f fitted) wouldDo(named int) Warning {
	n := len(f.machine.delay)
	return Warning{
		What: fmt.Sprintf("%s named, but %s with repeats would explain the take as well: %s", headCount(named), headCount(n), f.heads(upTo(n))),
		Do:   "make sure that all heads named were on, or measure with the feedback turned down",
	}
}

// moreSound is the doubt that more heads sound than were named.
func (a account) moreSound() []Warning {
	n := len(a.machine.delay)
	return []Warning{{
		What: fmt.Sprintf("%s named, but %d sound: %s; %s left out, and which of them is which is a guess",
			headCount(n-len(a.unnamed)), n, a.heads(upTo(n)), a.places(a.unnamed)),
		Do: "name all heads that were on, in order of delay",
	}}
}

// heads tells where some heads stand, how loud, and whether inverted.
func (f fitted) heads(which []int) string {
	tone := f.machine.tone.magnitude(1000, f.sound.rate)
	words := make([]string, len(which))
	for i, k := range which {
		words[i] = fmt.Sprintf("%.1f ms (%.1f dB to the direct sound", 1000*f.machine.delay[k], decibels(f.machine.gain[k]*tone))
		if i > 0 {
			words[i] = fmt.Sprintf("%.1f ms (%.1f dB", 1000*f.machine.delay[k], decibels(f.machine.gain[k]*tone))
		}
		if f.machine.gain[k] < 0 {
			words[i] += ", inverted"
		}
		words[i] += ")"
	}
	return "at " + listed(words)
}

func (f fitted) places(which []int) string {
	words := make([]string, len(which))
	for i, k := range which {
		words[i] = fmt.Sprintf("%.1f ms", 1000*f.machine.delay[k])
	}
	if len(which) == 1 {
		return "that at " + words[0] + " was"
	}
	return "those at " + listed(words) + " were"
}

// listed joins words as people do: a, b and c.
func listed(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

func headCount(n int) string {
	if n == 1 {
		return "1 head"
	}
	return fmt.Sprintf("%d heads", n)
}

func soundsOf(n int) string {
	if n == 1 {
		return "1 sounds"
	}
	return fmt.Sprintf("%d sound", n)
}
