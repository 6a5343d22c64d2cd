package library

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
)

// A work is a change of the library that is done whole or not at all, whatever
// happens to the program or the disk in the middle.
type work struct {
	prepare func(t testing.TB, l *Library) // nil: nothing
	do      func(ctx context.Context, l *Library) error
	// done is whether the library is as after the work, and requires that it is
	// as before it where not.
	done func(t testing.TB, l *Library) bool
	// undone is whether it is always as before after an error. Where a file is
	// replaced, the last that can fail comes after it is done.
	undone bool
}

// firstName is that of the first snapshot or intent of the evening.
const firstName = "2026-03-14-193000-five-line"

func works() map[string]work {
	return map[string]work{
		"keep a snapshot": {
			do:     func(ctx context.Context, l *Library) error { _, err := l.WriteSnapshot(ctx, evenings()); return err },
			done:   func(t testing.TB, l *Library) bool { return requireSnapshots(t, l, 1) == 1 },
			undone: true,
		},
		"grow a snapshot": {
			prepare: func(t testing.TB, l *Library) { write(t, l, begun()) },
			do: func(ctx context.Context, l *Library) error {
				return l.GrowSnapshot(ctx, firstName, rest[:1], false)
			},
			done: grownTo([]int{3}, []int{3, 12}, false),
		},
		"complete a snapshot": {
			prepare: func(t testing.TB, l *Library) { write(t, l, begun()) },
			do: func(ctx context.Context, l *Library) error {
				return l.GrowSnapshot(ctx, firstName, rest, true)
			},
			done: grownTo([]int{3}, []int{0, 3, 12}, true),
		},
		"begin": {
			do:     func(ctx context.Context, l *Library) error { _, err := l.Begin(ctx, pushing()); return err },
			done:   func(t testing.TB, l *Library) bool { return requireIntents(t, l, 1) == 1 },
			undone: true,
		},
		"finish": {
			prepare: func(t testing.TB, l *Library) { begin(t, l, pushing()) },
			do:      func(ctx context.Context, l *Library) error { return l.Finish(ctx, firstName) },
			done:    func(t testing.TB, l *Library) bool { return requireIntents(t, l, 1) == 0 },
			undone:  true,
		},
	}
}

// requireSnapshots requires that no more than so many snapshots are there, each
// whole, and counts them.
func requireSnapshots(t testing.TB, l *Library, most int) int {
	t.Helper()
	all, err := l.Snapshots()
	require.NoError(t, err)
	require.LessOrEqual(t, len(all), most)
	for _, e := range all {
		require.NoError(t, e.Err)
		require.Equal(t, []int{0, 12}, slotNumbers(read(t, l, e.Name)))
	}
	return len(all)
}

func grownTo(before, after []int, complete bool) func(testing.TB, *Library) bool {
	return func(t testing.TB, l *Library) bool {
		s := read(t, l, firstName)
		if len(s.Slots) == len(before) {
			require.Equal(t, before, slotNumbers(s))
			require.False(t, s.Complete)
			require.Equal(t, []int{0, 3, 12}, s.Asked)
			return false
		}
		require.Equal(t, after, slotNumbers(s))
		require.Equal(t, complete, s.Complete)
		return true
	}
}

func requireIntents(t testing.TB, l *Library, most int) int {
	t.Helper()
	all, err := l.Intents()
	require.NoError(t, err)
	require.LessOrEqual(t, len(all), most)
	for _, e := range all {
		require.NoError(t, e.Err)
		require.Equal(t, pushing().Slots, e.Intent.Slots)
		require.Equal(t, pushing().Profile, e.Intent.Profile)
	}
	return len(all)
}

// requireRedone does the work again if it is not done, and requires that nothing
// half-made is left then.
func requireRedone(t testing.TB, l *Library, w work) {
	t.Helper()
	if !w.done(t, l) {
		require.NoError(t, w.do(t.Context(), l))
		require.True(t, w.done(t, l))
	}
	_, err := l.WriteSnapshot(t.Context(), evenings()) // whatever comes next clears the folder
	require.NoError(t, err)
	name := begin(t, l, pushing())
	require.NoError(t, l.Finish(t.Context(), name))
	requireNoLeftovers(t, l)
}

func requireNoLeftovers(t testing.TB, l *Library) {
	t.Helper()
	for _, f := range files(t, l) {
		require.NotContains(t, f, ".partial-")
	}
}
