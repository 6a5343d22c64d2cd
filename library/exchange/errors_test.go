package exchange

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/profiles"
)

func TestFiguresForPeople(t *testing.T) {
	for _, c := range []struct {
		value any
		want  string
	}{
		{3174.802103936399, "3174.802"}, {200.0, "200"}, {-0.5, "-0.5"}, {-0.0001, "0"}, {0.0006, "0.001"}, {"silent", "silent"},
	} {
		require.Equal(t, c.want, Figure(c.value))
	}
}

func TestWhatASlotHoldsInsteadIsToldShortly(t *testing.T) {
	d := func(name string, was, is any) profiles.Difference {
		return profiles.Difference{Parameter: name, Was: was, Is: is}
	}
	all := []profiles.Difference{
		d("a-high-cut", 3174.802103936399, 6349.604207872798), d("a-source", "input", "c"), d("a-time", 200.0, 144.3), d("b-time", 1.0, 2.0), d("drive", 1.0, 2.0),
	}
	for _, c := range []struct {
		err  *DiffersError
		want string
	}{
		{&DiffersError{Slot: 5}, "it was written, but then held something else in bytes that mean no parameter"},
		{&DiffersError{Slot: 5, Fault: errors.New("a wrong code")}, "it was written, but then held something else, which is no setting: a wrong code"},
		{&DiffersError{Slot: 5, Differences: all[:2]}, "it was written, but then held something else; a-high-cut: wanted 3174.802, got 6349.604; a-source: wanted input, got c"},
		{&DiffersError{Slot: 5, Differences: all}, "it was written, but then held something else; a-high-cut: wanted 3174.802, got 6349.604; " +
			"a-source: wanted input, got c; a-time: wanted 200, got 144.3, and 2 more"},
	} {
		require.EqualError(t, c.err, c.want)
	}
	unwritten := &UnwrittenError{Slot: 8, Holds: HoldsBefore, Readable: true, Done: []int{4, 5, 6, 7}, Untouched: []int{9, 12}, Err: &DiffersError{Slot: 8}}
	require.EqualError(t, unwritten, "writing slot 8: it was written, but then held something else in bytes that mean no parameter; the slot holds what it held before: "+
		"read back and verified; slots 4-7 done and verified before it; slots 9, 12 not touched")
}
