package library

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// drumAt is a unit with one head.
func drumAt(delay preset.Millis) []byte {
	return fmt.Appendf(nil, "format = 'echowright-unit/1'\nname = 'drum'\nkind = 'drum'\n[[head]]\nhead = 1\ndelay_ms = %v\nlevel_db = 0\n", float64(delay))
}

func TestASongsUnitInAnyOfItsRevisions(t *testing.T) {
	l := open(t) // its clock stands still: what is thrown away in one second is told apart
	for revision := 1; revision <= 12; revision++ {
		_, err := l.Units.Add(t.Context(), "drum.toml", drumAt(preset.Millis(100*revision)), true)
		require.NoError(t, err)
	}
	check := func() {
		for revision := 1; revision <= 12; revision++ {
			u, err := l.SongUnit(fmt.Sprintf("drum@%d", revision))
			require.NoError(t, err)
			require.Equal(t, preset.Millis(100*revision), u.Heads[0].Delay)
		}
		_, err := l.SongUnit("drum@13")
		require.EqualError(t, err, `no unit "drum@13" in the library: did you mean "drum@12"?`)
	}
	check()
	u, err := l.SongUnit("drum")
	require.NoError(t, err)
	require.Equal(t, preset.Millis(1200), u.Heads[0].Delay, "without a number, the one on the shelf")

	_, err = l.Units.Remove(t.Context(), "drum")
	require.NoError(t, err)
	check()
	_, err = l.SongUnit("drum")
	var none *NotFoundError
	require.ErrorAs(t, err, &none)
}

func TestRevisionsThatThereAreNot(t *testing.T) {
	l := open(t)
	_, err := l.Units.Add(t.Context(), "drum.toml", drumAt(100), false)
	require.NoError(t, err)
	for named, want := range map[string]string{
		"dram":    `no unit "dram" in the library: did you mean "drum"?`,
		"dram@1":  `no unit "dram" in the library: did you mean "drum"?`,
		"drum@2":  `no unit "drum@2" in the library: did you mean "drum@1"?`,
		"drum@0":  `"drum@0": a revision is a number from 1 on, such as drum@1`,
		"drum@-1": `"drum@-1": a revision is a number from 1 on, such as drum@1`,
		"drum@01": `"drum@01": a revision is a number from 1 on, such as drum@1`,
		"drum@":   `"drum@": a revision is a number from 1 on, such as drum@1`,
	} {
		_, err := l.SongUnit(named)
		require.EqualError(t, err, want)
	}
	_, err = l.SongUnit("../drum@1")
	require.ErrorContains(t, err, "use lower-case letters")
}

func TestABrokenRevisionIsTold(t *testing.T) {
	l := open(t)
	for _, delay := range []preset.Millis{100, 200} {
		_, err := l.Units.Add(t.Context(), "drum.toml", drumAt(delay), true)
		require.NoError(t, err)
	}
	require.NoError(t, os.WriteFile(filepath.Join(l.Home(), "units", "drum.toml"), []byte("x"), 0o644))
	_, err := l.SongUnit("drum@2")
	require.ErrorContains(t, err, "drum.toml:1: ")
	u, err := l.SongUnit("drum@1")
	require.NoError(t, err, "the old one is whole")
	require.Equal(t, preset.Millis(100), u.Heads[0].Delay)

	old, err := filepath.Glob(filepath.Join(l.Home(), "trash", "units", "drum", "*.toml"))
	require.NoError(t, err)
	require.Len(t, old, 1)
	require.NoError(t, os.WriteFile(old[0], []byte("x"), 0o644))
	_, err = l.SongUnit("drum@1")
	require.ErrorContains(t, err, old[0]+":1: ")
}
