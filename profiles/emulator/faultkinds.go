package emulator

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// A FaultKind is an illness by the name under which it is ordered: NAME, or
// NAME=N where N says something.
type FaultKind struct {
	Name    string
	N       string // what N is: "answer", "seconds"; "" where there is none
	Event   bool   // N is the number of an event, from 1; without N the fault befalls each
	Without int    // stands for N where none is given; with 0 it must be given
	Means   string // in half a sentence

	order func(f *Faults, n int)
}

// Form is how it is written: "lose-answer[=N]", "keep=N", "mute".
func (k FaultKind) Form() string {
	switch {
	case k.N == "":
		return k.Name
	case k.Without == 0:
		return k.Name + "=N"
	}
	return k.Name + "[=N]"
}

// Order adds the fault to f; n counts as Without does.
func (k FaultKind) Order(f *Faults, n int) { k.order(f, n) }

// Order adds a fault given as text: NAME, or NAME=N with N decimal or, after 0x,
// hexadecimal.
func (f *Faults) Order(text string) error {
	name, number, given := strings.Cut(text, "=")
	var names []string
	for _, k := range FaultKinds() {
		if k.Name != name {
			names = append(names, k.Name)
			continue
		}
		n := k.Without
		switch {
		case given && k.N == "":
			return fmt.Errorf("fault %q: it takes no number: write %s", text, k.Form())
		case !given && n == 0 && k.N != "":
			return fmt.Errorf("fault %q: write %s, with the number of the %s", text, k.Form(), k.N)
		case given:
			var err error
			if n, err = k.number(number); err != nil {
				return fmt.Errorf("fault %q: %w", text, err)
			}
		}
		k.order(f, n)
		return nil
	}
	return fmt.Errorf("fault %q: there is none of that name; there are: %s", text, strings.Join(names, ", "))
}

// number is from 1, but for what is named by numbers that begin with 0.
func (k FaultKind) number(text string) (int, error) {
	least := 1
	if k.Without == 0 {
		least = 0
	}
	n, err := strconv.ParseInt(text, 0, 32)
	if err != nil || int(n) < least {
		return 0, fmt.Errorf("%q: N is a whole number from %d: %s", text, least, k.N)
	}
	return int(n), nil
}

// FaultKinds lists what can be ordered by name: first what befalls the answers,
// then what comes in, then what the unit does.
func FaultKinds() []FaultKind {
	const answer, message, second = "answer", "message", time.Second
	return []FaultKind{
		event("lose-answer", answer, "never comes", func(f *Faults, n Nth) { f.LoseAnswer = n }),
		event("corrupt-answer", answer, "comes with a bit turned over", func(f *Faults, n Nth) { f.CorruptAnswer = n }),
		event("double-answer", answer, "comes twice", func(f *Faults, n Nth) { f.DoubleAnswer = n }),
		event("late-answer", answer, "comes 1.5 s late", func(f *Faults, n Nth) { f.LateAnswer, f.LateBy = n, 3*second/2 }),
		event("noise", answer, "comes after half a message, with clocks in it", func(f *Faults, n Nth) { f.Rubbish = n }),
		{Name: "single-bytes", Means: "answers come in pieces of one byte", order: func(f *Faults, _ int) { f.SingleBytes = true }},
		{Name: "mute", Means: "no answer ever comes", order: func(f *Faults, _ int) { f.Mute = true }},
		{
			Name: "bit-errors", N: "bytes", Without: 1000, Means: "of N bytes that it sends (1000) one has a wrong bit",
			order: func(f *Faults, n int) { f.BitErrorsOut = 1 / float64(n) },
		},
		{
			Name: "neighbour", Means: "another unit talks to somebody else on the same line",
			order: func(f *Faults, _ int) { f.Neighbour = true },
		},

		event("lose-byte", "byte", "that is sent to it never arrives", func(f *Faults, n Nth) { f.LoseByte = n }),
		event("ignore-message", message, "is not heard", func(f *Faults, n Nth) { f.IgnoreMessage = n }),
		{
			Name: "bit-errors-in", N: "bytes", Without: 1000, Means: "of N bytes that it hears (1000) one has a wrong bit",
			order: func(f *Faults, n int) { f.BitErrorsIn = 1 / float64(n) },
		},
		{
			Name: "overflow", N: "bytes", Without: 48, Means: "its input holds N bytes (48) and is read at half speed",
			order: func(f *Faults, n int) { f.Buffer, f.SlowReading = n, 2*byteTime },
		},

		event("refuse-values", "message with values", "is refused", func(f *Faults, n Nth) { f.RefuseValues = n }),
		event("refuse-writes", "write to the memory", "is refused, as if protected", func(f *Faults, n Nth) { f.RefuseWrites = n }),
		event("false-store", "write to the memory", "is acknowledged, but not made", func(f *Faults, n Nth) { f.FalseStore = n }),
		{
			Name: "long-write", N: "seconds", Without: 3, Means: "a write to the memory takes N seconds (3)",
			order: func(f *Faults, n int) { f.LongWrite = time.Duration(n) * second },
		},
		{
			Name: "keep", N: "parameter", Means: "the parameter N stays as it was: the address in five-line's manual, the number in open-parameter's; 16 or 0x10",
			order: func(f *Faults, n int) { f.Keep = append(f.Keep, n) },
		},
		{
			Name: "die-after", N: "messages", Without: 1, Means: "it is dead after N messages (1)",
			order: func(f *Faults, n int) { f.DieAfter = n },
		},
		event("reboot", message, "is obeyed, then it restarts, deaf for 1.5 s", func(f *Faults, n Nth) { f.Reboot = n }),
		{Name: "wrong-identity", Means: "it says that it is another model", order: func(f *Faults, _ int) { f.WrongIdentity = true }},
	}
}

func event(name, of, means string, order func(*Faults, Nth)) FaultKind {
	return FaultKind{
		Name: name, N: of, Event: true, Without: int(Every), Means: "the Nth " + of + " " + means,
		order: func(f *Faults, n int) { order(f, Nth(n)) },
	}
}
