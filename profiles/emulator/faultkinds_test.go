package emulator

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestFaultsByName(t *testing.T) {
	for _, c := range []struct {
		text string
		want Faults
	}{
		{"lose-answer", Faults{LoseAnswer: Every}},
		{"lose-answer=3", Faults{LoseAnswer: 3}},
		{"corrupt-answer=2", Faults{CorruptAnswer: 2}},
		{"double-answer", Faults{DoubleAnswer: Every}},
		{"late-answer=4", Faults{LateAnswer: 4, LateBy: 1500 * time.Millisecond}},
		{"noise", Faults{Rubbish: Every}},
		{"single-bytes", Faults{SingleBytes: true}},
		{"mute", Faults{Mute: true}},
		{"bit-errors=200", Faults{BitErrorsOut: 0.005}},
		{"neighbour", Faults{Neighbour: true}},
		{"lose-byte=17", Faults{LoseByte: 17}},
		{"ignore-message=1", Faults{IgnoreMessage: 1}},
		{"bit-errors-in", Faults{BitErrorsIn: 0.001}},
		{"overflow", Faults{Buffer: 48, SlowReading: 640 * time.Microsecond}},
		{"refuse-values", Faults{RefuseValues: Every}},
		{"refuse-writes=2", Faults{RefuseWrites: 2}},
		{"false-store=1", Faults{FalseStore: 1}},
		{"long-write=60", Faults{LongWrite: time.Minute}},
		{"keep=0x24", Faults{Keep: []int{0x24}}},
		{"keep=0", Faults{Keep: []int{0}}},
		{"die-after=5", Faults{DieAfter: 5}},
		{"reboot=2", Faults{Reboot: 2}},
		{"wrong-identity", Faults{WrongIdentity: true}},
	} {
		var got Faults
		require.NoError(t, got.Order(c.text), c.text)
		require.Equal(t, c.want, got, c.text)
		require.NoError(t, got.check(fiveLineName), c.text)
	}
	f := Faults{LoseAnswer: 2}
	require.NoError(t, f.Order("keep=1"))
	require.NoError(t, f.Order("keep=2"))
	require.Equal(t, Faults{LoseAnswer: 2, Keep: []int{1, 2}}, f, "one adds to the others")
}

func TestFaultsThatCannotBeOrdered(t *testing.T) {
	for _, c := range []struct{ text, says string }{
		{"", `fault "": there is none of that name; there are: lose-answer, corrupt-answer`},
		{"loose-answer", "there is none of that name"},
		{"mute=2", "it takes no number: write mute"},
		{"keep", "write keep=N, with the number of the parameter"},
		{"lose-answer=", `"": N is a whole number from 1: answer`},
		{"lose-answer=0", "from 1"},
		{"lose-answer=-1", "from 1"},
		{"keep=-1", "from 0"},
		{"bit-errors=0", "from 1: bytes"},
		{"long-write=2.5", "whole number"},
	} {
		f := Faults{DieAfter: 9}
		require.ErrorContains(t, f.Order(c.text), c.says, c.text)
		require.Equal(t, Faults{DieAfter: 9}, f)
	}
}

// Each name is there once, has a form and does something.
func TestTheTableOfFaults(t *testing.T) {
	seen := map[string]bool{}
	for _, k := range FaultKinds() {
		require.False(t, seen[k.Name], k.Name)
		seen[k.Name] = true
		require.NotEmpty(t, k.Means)
		require.Equal(t, k.N == "", k.Form() == k.Name, k.Name)
		require.False(t, k.Event && k.Without != int(Every), k.Name)
		var f Faults
		k.Order(&f, max(1, k.Without))
		require.NotEqual(t, Faults{}, f, k.Name)
	}
}
