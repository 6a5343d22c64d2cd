package library

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset/stricttoml"
)

// damages spoils every file of a folder in every place, one at a time: each byte
// is changed in two ways, each length is cut off. It calls look for each, and puts
// the file back.
func damages(t *testing.T, folder string, look func(file, what string)) (tried int) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	for _, e := range entries {
		path := filepath.Join(folder, e.Name())
		good, err := os.ReadFile(path)
		require.NoError(t, err)
		spoil := func(what string, bad []byte) {
			require.NoError(t, os.WriteFile(path, bad, 0o600))
			look(e.Name(), what)
			tried++
		}
		for i := range good {
			for _, bits := range []byte{0x01, 0x20} {
				bad := bytes.Clone(good)
				bad[i] ^= bits
				spoil("a changed byte", bad)
			}
			spoil("cut short", good[:i])
		}
		spoil("a byte more", append(bytes.Clone(good), '\n'))
		require.NoError(t, os.WriteFile(path, good, 0o600))
	}
	return tried
}

func TestASnapshotWithASingleWrongByte(t *testing.T) {
	l := open(t)
	s := evenings()
	s.Sent, s.Channel = true, 5
	name := write(t, l, s)
	tried := damages(t, l.snapshotPath(name), func(file, what string) {
		got, err := l.Snapshot(name)
		require.Error(t, err, "%s: %s", file, what)
		require.Equal(t, Snapshot{}, got)
		_, found, err := l.LastSent(s.Device, s.Port, s.UnitNumber, s.Channel, 12)
		require.Error(t, err, "%s: %s", file, what)
		require.False(t, found)
		require.Error(t, l.CheckSnapshot(name), "%s: %s", file, what)
	})
	t.Logf("%d kinds of damage, each found", tried)
	require.NoError(t, l.CheckSnapshot(name), "all was put back")
}

func TestAnIntentWithASingleWrongByte(t *testing.T) {
	l := open(t)
	name := begin(t, l, pushing())
	tried := damages(t, l.intentPath(name), func(file, what string) {
		got, err := l.Intent(name)
		require.Error(t, err, "%s: %s", file, what)
		require.Equal(t, Intent{}, got, "nobody is to go on with it")
		all, err := l.Intents()
		require.NoError(t, err)
		require.Len(t, all, 1, "it is told all the same")
		require.Error(t, all[0].Err)
		require.Empty(t, all[0].Intent.Profile)
		for _, s := range all[0].Intent.Slots {
			require.Empty(t, s.Content)
		}
	})
	t.Logf("%d kinds of damage, each found", tried)
	_, err := l.Intent(name)
	require.NoError(t, err, "all was put back")
}

func TestWhatIsWrongWithAnIntentIsTold(t *testing.T) {
	for _, c := range []struct {
		name   string
		damage func(t *testing.T, folder string)
		want   string
		told   bool // what was under way can be said
	}{
		{"a changed byte in a slot", func(t *testing.T, folder string) { flip(t, filepath.Join(folder, "slot-12.bin"), 1) },
			`intent "2026-03-14-193000-five-line": slot-12.bin has the SHA-256`, true},
		{"a changed profile", func(t *testing.T, folder string) { flip(t, filepath.Join(folder, "profile.toml"), 0) },
			"profile.toml has the SHA-256", true},
		{"a slot missing", func(t *testing.T, folder string) { require.NoError(t, os.Remove(filepath.Join(folder, "slot-05.bin"))) },
			"slot-05.bin is missing", true},
		{"another unit number", func(t *testing.T, folder string) {
			flip(t, filepath.Join(folder, intentName), bytes.Index([]byte(wantIntent), []byte("unit = 3"))+7)
		},
			"intent.toml has the SHA-256", false},
		{"intent.toml missing", func(t *testing.T, folder string) { require.NoError(t, os.Remove(filepath.Join(folder, intentName))) },
			"intent.toml is missing", false},
		{"an empty folder", func(t *testing.T, folder string) {
			require.NoError(t, os.RemoveAll(folder))
			require.NoError(t, os.Mkdir(folder, 0o755))
		}, "intent.toml is missing", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := open(t)
			name := begin(t, l, pushing())
			c.damage(t, l.intentPath(name))
			_, err := l.Intent(name)
			require.ErrorContains(t, err, c.want)
			var damaged *DamagedError
			require.ErrorAs(t, err, &damaged)
			require.Equal(t, "intent", damaged.Noun)
			all, err := l.Intents()
			require.NoError(t, err)
			require.Len(t, all, 1)
			require.ErrorContains(t, all[0].Err, c.want)
			require.Equal(t, c.told, all[0].Intent.Snapshot == pushing().Snapshot, "where the old content is")

			require.NoError(t, l.Finish(t.Context(), name), "what is damaged can be given up")
		})
	}
}

func TestAnIntentOfANewerProgram(t *testing.T) {
	l := open(t)
	name := begin(t, l, pushing())
	path := filepath.Join(l.intentPath(name), intentName)
	require.NoError(t, os.WriteFile(path, []byte("format = \"echowright-intent/2\"\nwhatever = 1\n"), 0o600))
	_, err := l.Intent(name)
	var newer *stricttoml.UnsupportedError
	require.ErrorAs(t, err, &newer)
	require.ErrorContains(t, err, "was made by a newer echowright, this one reads up to \"echowright-intent/1\"; update echowright")
}

// Only a manifest from before there was own_sha256 may be without.
func TestASnapshotWithoutASealIsTakenAsItIs(t *testing.T) {
	l := open(t)
	name := write(t, l, evenings())
	path := filepath.Join(l.snapshotPath(name), manifestName)
	text, _ := unsealed([]byte(wantManifest))
	require.NoError(t, os.WriteFile(path, text, 0o600))
	require.Equal(t, evenings().Note, read(t, l, name).Note)

	bare, _ := unsealed([]byte(wantIntent))
	_, err := parseIntent("i", bare)
	require.EqualError(t, err, "i:1: own_sha256 is missing; add it")
}
