package emulator

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestANeighbourSaysTheSameOfItsOwn(t *testing.T) {
	b := standing(t, fiveLineName, Options{Unit: 3, Faults: Faults{Neighbour: true}})
	// Sum of 7F 31: B0h, so 50h, whatever the number.
	require.Equal(t, "F0 7D 05 04 7F 31 50 F7 F0 7D 05 03 7F 31 50 F7", b.ask("F0 7D 05 03 31 01 4E F7"))
	require.Equal(t, "F0 7E 04 06 02 7D 05 00 01 00 01 00 00 00 F7 F0 7E 03 06 02 7D 05 00 01 00 01 00 00 00 F7",
		b.ask("F0 7E 03 06 01 F7"))
	require.Empty(t, b.ask("F0 7D 05 04 31 01 4E F7"), "to its own number it says nothing: nobody calls it")

	// Line A's time: 1100 in slot 0, one sixteenth more (68) in slot 1, which the
	// neighbour has in its slot 0 and lets sound. 1168 = 9·128 + 16, 1236 = 9·128 + 84.
	fresh := standing(t, fiveLineName, Options{Faults: Faults{Neighbour: true}})
	require.Equal(t, "F0 7D 05 01 12 00 00 09 10 55 F7 F0 7D 05 00 12 00 00 08 4C 1A F7", fresh.ask("F0 7D 05 00 11 00 00 6F F7"))
}

func TestANeighbourWritesToo(t *testing.T) {
	s := standing(t, fiveLineName, Options{Faults: Faults{Neighbour: true}})
	before, err := s.Memory(9)
	require.NoError(t, err)
	require.Equal(t, "F0 7D 05 01 7F 22 5F F7 F0 7D 05 00 7F 22 5F F7", s.ask(overwrite(5, memory(before))))
	got, err := s.Memory(5)
	require.NoError(t, err)
	require.Equal(t, before, got)
	require.Equal(t, "F0 7D 05 01 7F 30 51 F7 F0 7D 05 00 7F 30 51 F7", s.ask(framed(0x30, 6)))
}

func TestTheNeighboursDumpGoesToSomebodyElse(t *testing.T) {
	s := standing(t, openParameterName, Options{Faults: Faults{Neighbour: true}})
	// To device 05, from device 01: the header under the same name.
	s.arrive(askMemory0)
	require.Equal(t, "F0 7E 05 07 01 01 42 49 4E 20 20 00 00 00 4D 45 4D 30 30 F7 "+header0, s.pass(soon))
	s.arrive(hostACK)
	both := s.pass(40 * time.Millisecond)
	require.Equal(t, "F0 7E 05 07 02", both[:14])
	require.Contains(t, both, packet0)
	require.NotContains(t, both[:len(packet0)], packed0, "its own memory")
	require.Equal(t, "F0 7E 05 7F 00 F7 "+unitACK, s.ask(toMemory3))
}

func TestANeighbourNeedsANumber(t *testing.T) {
	_, err := New(twinName, Options{Faults: Faults{Neighbour: true}})
	require.ErrorContains(t, err, "emulator twin: fault: a neighbour is told by its unit number, and it has none")
}
