package profiles_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// A bench is an emulated unit at the end of a cable, and the time there.
type bench struct {
	t      testing.TB
	device *profiles.Device
	unit   *emulator.Unit
	number int // that is set on it, or its channel
	now    time.Time
	framer midi.Framer
	heard  [][]byte
}

// newBench switches the hardware on. Number 2 is also channel 3, and where units
// have no number it is channel 2: so a wrong one of either is seen.
func newBench(t testing.TB, name string) *bench {
	t.Helper()
	d, err := profiles.Shipped(name)
	require.NoError(t, err)
	o := emulator.Options{Unit: 2, Channel: 3}
	if d.Manners.ByChannel {
		o = emulator.Options{Channel: 2}
	}
	u, err := emulator.New(name, o)
	require.NoError(t, err)
	return &bench{t: t, device: d, unit: u, number: 2, now: time.Unix(0, 0)}
}

const byteTime = 320 * time.Microsecond // M1 page 1

func (b *bench) collect() {
	for _, piece := range b.unit.Run(b.now) {
		b.framer.Feed(piece, func(f midi.Frame) { b.heard = append(b.heard, slices.Clone(f.Bytes)) })
	}
}

// run sends a step at the speed of the wire and with its silences, and gives its
// answer: nothing where the step wants none, or none came and that is well.
func (b *bench) run(step midi.Step) (midi.Meaning, []byte) {
	b.t.Helper()
	require.NoError(b.t, step.Check())
	b.heard = nil
	for i, m := range midi.Split(step.Send) {
		if i > 0 {
			b.now = b.now.Add(step.Gap)
		}
		b.unit.Arrive(b.now, m)
		b.now = b.now.Add(time.Duration(len(m)) * byteTime)
		b.collect()
	}
	means, answer := b.answer(step)
	b.now = b.now.Add(step.Gap)
	b.collect()
	return means, answer
}

func (b *bench) answer(step midi.Step) (midi.Meaning, []byte) {
	until := b.now.Add(step.Timeout)
	for len(step.Answers) > 0 {
		for len(b.heard) > 0 {
			message := b.heard[0]
			b.heard = b.heard[1:]
			a, fits := step.Answer(message)
			if fits && a.Means != midi.Hold {
				return a.Means, message
			}
		}
		at, ok := b.unit.Next()
		if !ok || at.After(until) {
			b.now = until
			return step.Silence, nil
		}
		b.now = at
		b.collect()
	}
	return 0, nil
}

// mustRun is run where nothing may be refused.
func (b *bench) mustRun(steps ...midi.Step) {
	b.t.Helper()
	for _, s := range steps {
		means, _ := b.run(s)
		if len(s.Answers) > 0 {
			require.Contains(b.t, []midi.Meaning{midi.Done, midi.Data}, means, s.What)
		}
	}
}

// manualName is what the hardware's manual calls a parameter of the profile.
func (b *bench) manualName(i int) string {
	name := strings.ReplaceAll(b.device.Parameters[i].Name, "-", " ")
	switch line, rest, _ := strings.Cut(name, " "); {
	case b.device.Name == "five-line" && len(line) == 1:
		return "line " + strings.ToUpper(line) + " " + rest
	case b.device.Name == "tap-loop" && name == "feedback":
		return "feedback amount"
	}
	return name
}

// codes is what the hardware holds in a slot, in the profile's order.
func (b *bench) codes(slot int) []int {
	b.t.Helper()
	sound, err := b.unit.Sound(slot)
	require.NoError(b.t, err)
	codes := make([]int, len(b.device.Parameters))
	for i := range codes {
		codes[i], err = sound.Code(b.manualName(i))
		require.NoError(b.t, err)
	}
	return codes
}
