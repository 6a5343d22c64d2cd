package profiles_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// The suite that every shipped profile passes with the emulator of its hardware,
// which is written from the manual and never looks at the profile: what the
// profile's messages say must arrive there.

// emulated are the shipped devices that there is hardware for.
func emulated() []string {
	return slices.DeleteFunc(profiles.Names(), func(n string) bool { return !slices.Contains(emulator.Names(), n) })
}

// someCodes are the lowest, the highest and some others that mean something.
func someCodes(random *rand.Rand, s *profiles.Scale, n int) []int {
	all := []int{s.Low, s.High()}
	for range n {
		if code := s.Low + random.IntN(s.High()-s.Low+1); s.Holds(code) {
			all = append(all, code)
		}
	}
	return all
}

// randomSetting is any setting that the device can hold: a line takes the input
// or a line before it, so that no circle comes about.
func randomSetting(random *rand.Rand, d *profiles.Device) profiles.Setting {
	for {
		s := d.Rest()
		for i, p := range d.Parameters {
			codes := someCodes(random, p.Scale, 3)
			s.Codes[i] = codes[random.IntN(len(codes))]
		}
		for n, l := range d.Lines {
			if i := l.Parameter(profiles.RoleSource); i != profiles.None {
				s.Codes[i], _ = d.SourceCode(l, random.IntN(n+1)-1)
			}
		}
		s.Name = d.FitName(fmt.Sprintf("tide %d", random.IntN(1000)))
		if d.Check(s) == nil {
			return s
		}
	}
}

func TestEachParameterArrives(t *testing.T) {
	for _, name := range emulated() {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, name)
			random := rand.New(rand.NewPCG(1, 3))
			decoder := b.device.Decoder(b.number)
			for i, p := range b.device.Parameters {
				for _, code := range someCodes(random, p.Scale, 20) {
					step, err := b.device.SetStep(b.number, i, code)
					require.NoError(t, err)
					if p.Role == profiles.RoleSource && refusedSource(t, b, i, code) {
						means, _ := b.run(step)
						require.Equal(t, midi.Refused, means, step.What)
						continue
					}
					b.mustRun(step)
					require.Equal(t, code, b.codes(emulator.EditBuffer)[i], step.What)
					require.Equal(t, profiles.Told{Kind: profiles.ToldSet, Parameter: i, Code: code, Slot: profiles.None}, last(decode(decoder, step)), step.What)
					readBack(t, b, i, code)
				}
				rest, err := b.device.SetStep(b.number, i, p.Rest)
				require.NoError(t, err)
				b.mustRun(rest)
			}
		})
	}
}

// refusedSource reports whether the device's own codes now, with that source,
// would run in a circle.
func refusedSource(t *testing.T, b *bench, i, code int) bool {
	t.Helper()
	s := profiles.Setting{Codes: b.codes(emulator.EditBuffer)}
	s.Codes[i] = code
	_, err := b.device.Network(s)
	return err != nil
}

func decode(d *profiles.Decoder, step midi.Step) []profiles.Told {
	var all []profiles.Told
	var f midi.Framer
	f.Feed(step.Send, func(m midi.Frame) { all = append(all, d.Feed(m.Bytes)...) })
	return all
}

func last(all []profiles.Told) profiles.Told {
	if len(all) == 0 {
		return profiles.Told{}
	}
	return all[len(all)-1]
}

// readBack asks for a parameter where the device can be asked.
func readBack(t *testing.T, b *bench, i, code int) {
	t.Helper()
	ask, err := b.device.AskStep(b.number, i)
	if err != nil {
		require.ErrorIs(t, err, profiles.ErrCannot)
		return
	}
	means, answer := b.run(ask)
	require.Equal(t, midi.Data, means)
	got, err := b.device.Code(answer)
	require.NoError(t, err)
	require.Equal(t, code, got, ask.What)
}

// Nothing may howl on the way: as long as anything else is not yet as it should
// be, every loop gain is down.
func TestASettingArrivesAndLoopGainsComeLast(t *testing.T) {
	for _, name := range emulated() {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, name)
			random := rand.New(rand.NewPCG(2, 4))
			for range 20 {
				want := randomSetting(random, b.device)
				decoder, got := b.device.Decoder(b.number), b.codes(emulator.EditBuffer)
				steps, err := b.device.SettingSteps(b.number, want)
				require.NoError(t, err)
				for n, s := range steps {
					b.mustRun(s)
					for _, told := range decode(decoder, s) {
						got[told.Parameter] = told.Code
					}
					if n >= len(b.device.Lines) {
						requireQuietUntilDone(t, b, want.Codes)
					}
				}
				require.Equal(t, want.Codes, b.codes(emulator.EditBuffer))
				require.Equal(t, want.Codes, got, "what the messages say, decoded")
			}
		})
	}
}

func requireQuietUntilDone(t *testing.T, b *bench, want []int) {
	t.Helper()
	now := b.codes(emulator.EditBuffer)
	done := true
	for i, p := range b.device.Parameters {
		done = done && (p.Role == profiles.RoleFeedback || now[i] == want[i])
	}
	for i, p := range b.device.Parameters {
		if p.Role == profiles.RoleFeedback && !done {
			require.Equal(t, p.Rest, now[i], "%s is up before the rest is right", p.Name)
		}
	}
}

func TestASlotIsPushed(t *testing.T) {
	for _, name := range emulated() {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, name)
			if !b.device.HasSlots() {
				t.Skip("it has no slots that can be filled")
			}
			random := rand.New(rand.NewPCG(3, 5))
			first, lastSlot := b.device.FirstSlot, b.device.LastSlot
			require.Equal(t, b.unit.Slots(), lastSlot-first+1)
			for _, slot := range []int{first, lastSlot, first + random.IntN(lastSlot-first), first + random.IntN(lastSlot-first)} {
				want := randomSetting(random, b.device)
				decoder := b.device.Decoder(b.number)
				steps, err := b.device.PushSteps(b.number, slot, want)
				require.NoError(t, err)
				b.mustRun(steps...)
				require.Equal(t, want.Codes, b.codes(slot), "slot %d", slot)

				var all []profiles.Told
				for _, s := range steps {
					all = append(all, decode(decoder, s)...)
				}
				requireTold(t, b.device, all, slot, want)
				if b.device.Readable() {
					memory := readSlot(t, b, slot)
					got, err := b.device.SlotSetting(memory)
					require.NoError(t, err)
					require.Equal(t, want, got)
				}
			}
		})
	}
}

// requireTold: the messages, decoded, say the same of the same slot.
func requireTold(t *testing.T, d *profiles.Device, all []profiles.Told, slot int, want profiles.Setting) {
	t.Helper()
	end := last(all)
	if d.WritesSlots() {
		require.Equal(t, profiles.ToldSlot, end.Kind)
		require.Equal(t, slot, end.Slot)
		got, err := d.SlotSetting(end.Memory)
		require.NoError(t, err)
		require.Equal(t, want, got)
		return
	}
	require.Equal(t, profiles.ToldStore, end.Kind)
	if end.Slot == profiles.None {
		require.Equal(t, profiles.ToldLoad, all[0].Kind)
		require.Equal(t, slot, all[0].Slot)
		return
	}
	require.Equal(t, slot, end.Slot)
}

// readSlot has the whole conversation about a slot.
func readSlot(t *testing.T, b *bench, slot int) []byte {
	t.Helper()
	r, err := b.device.ReadSlot(b.number, slot)
	require.NoError(t, err)
	for {
		step, more := r.Next()
		if !more {
			break
		}
		means, answer := b.run(step)
		require.Equal(t, midi.Data, means, step.What)
		require.NoError(t, r.Take(answer))
	}
	got, memory, err := b.device.SlotMemory(r.Messages())
	require.NoError(t, err)
	require.Equal(t, slot, got)
	return memory
}

func TestASlotIsLoaded(t *testing.T) {
	for _, name := range emulated() {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, name)
			random := rand.New(rand.NewPCG(4, 6))
			for range 8 {
				slot := b.device.FirstSlot + random.IntN(b.device.LastSlot-b.device.FirstSlot+1)
				load, err := b.device.LoadStep(b.number, slot)
				require.NoError(t, err)
				b.mustRun(load)
				require.Equal(t, b.codes(slot), b.codes(emulator.EditBuffer))
				require.Equal(t, profiles.Told{Kind: profiles.ToldLoad, Parameter: profiles.None, Slot: slot}, last(decode(b.device.Decoder(b.number), load)))
			}
		})
	}
}

// What is sent to another unit, or on another channel, does nothing.
func TestAnotherUnitIsLeftAlone(t *testing.T) {
	for _, name := range emulated() {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, name)
			before := b.codes(emulator.EditBuffer)
			steps, err := b.device.SettingSteps(b.number+1, randomSetting(rand.New(rand.NewPCG(5, 7)), b.device))
			require.NoError(t, err)
			decoder := b.device.Decoder(b.number)
			for _, s := range steps {
				b.run(s)
				require.Empty(t, decode(decoder, s))
			}
			require.Equal(t, before, b.codes(emulator.EditBuffer))
		})
	}
}

func TestIdentityIsTheHardwares(t *testing.T) {
	for _, name := range emulated() {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, name)
			ask, err := b.device.IdentityStep(b.number)
			if err != nil {
				require.ErrorIs(t, err, profiles.ErrCannot)
				return
			}
			means, answer := b.run(ask)
			require.Equal(t, midi.Data, means)
			require.NoError(t, b.device.CheckIdentity(answer))
		})
	}
}
