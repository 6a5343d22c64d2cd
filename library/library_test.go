package library

import (
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gofrs/flock"
	"github.com/stretchr/testify/require"

	"echowright/preset/stricttoml"
)

// evening is the time at which these tests happen.
var evening = time.Date(2026, 3, 14, 19, 30, 0, 0, time.FixedZone("CET", 3600))

func open(t testing.TB) *Library {
	t.Helper()
	l, err := Open(filepath.Join(t.TempDir(), "shelf"), func() time.Time { return evening })
	require.NoError(t, err)
	return l
}

func unitText(name string, more ...string) []byte {
	return []byte("# " + strings.Join(append([]string{"by hand"}, more...), " ") + `
format = "echowright-unit/1"
name = "` + name + `" # a comment that is to be kept
kind = "drum"
[[head]]
head = 1
delay_ms = 118.4
level_db = 0
`)
}

func add(t testing.TB, l *Library, names ...string) {
	t.Helper()
	for _, name := range names {
		_, err := l.Units.Add(t.Context(), "t.toml", unitText(name), false)
		require.NoError(t, err)
	}
}

// files lists every file below the library's folder.
func files(t testing.TB, l *Library) []string {
	t.Helper()
	var all []string
	require.NoError(t, filepath.WalkDir(l.Home(), func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			below, _ := filepath.Rel(l.Home(), path)
			all = append(all, filepath.ToSlash(below))
		}
		return err
	}))
	return all
}

func TestHome(t *testing.T) {
	for _, c := range []struct {
		name, asked, system string
		env                 map[string]string
		want                string
	}{
		{"asked for", "here", "linux", map[string]string{"ECHOWRIGHT_HOME": "/there", "HOME": "/home/ann"}, "here"},
		{"from the environment", "", "linux", map[string]string{"ECHOWRIGHT_HOME": "/there", "HOME": "/home/ann"}, "/there"},
		{"XDG", "", "linux", map[string]string{"XDG_DATA_HOME": "/data", "HOME": "/home/ann"}, "/data/echowright"},
		{"XDG must be a whole path", "", "linux", map[string]string{"XDG_DATA_HOME": "data", "HOME": "/home/ann"}, "/home/ann/.local/share/echowright"},
		{"Linux", "", "linux", map[string]string{"HOME": "/home/ann"}, "/home/ann/.local/share/echowright"},
		{"another Unix", "", "freebsd", map[string]string{"HOME": "/home/ann"}, "/home/ann/.local/share/echowright"},
		{"macOS", "", "darwin", map[string]string{"HOME": "/Users/ann", "XDG_DATA_HOME": "/data"}, "/Users/ann/Library/Application Support/echowright"},
		{"Windows", "", "windows", map[string]string{"AppData": "/c/Users/ann/AppData/Roaming", "USERPROFILE": "/c/x"}, "/c/Users/ann/AppData/Roaming/echowright"},
		{"Windows without AppData", "", "windows", map[string]string{"USERPROFILE": "/c/Users/ann"}, "/c/Users/ann/AppData/Roaming/echowright"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Home(c.asked, c.system, func(key string) string { return c.env[key] })
			require.NoError(t, err)
			require.Equal(t, c.want, filepath.ToSlash(got))
		})
	}
	_, err := Home("", "linux", func(string) string { return "" })
	require.ErrorContains(t, err, "name a folder with --home or in $ECHOWRIGHT_HOME")
}

func TestOpenMakesNothing(t *testing.T) {
	l := open(t)
	units, err := l.Units.List()
	require.NoError(t, err)
	require.Empty(t, units)
	snapshots, err := l.Snapshots()
	require.NoError(t, err)
	require.Empty(t, snapshots)
	require.NoDirExists(t, l.Home())

	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	_, err = Open(file, time.Now)
	require.EqualError(t, err, "library: "+file+" is a file; choose a folder with --home")
}

func TestAUnitIsKeptToTheByte(t *testing.T) {
	l := open(t)
	text := unitText("saltmarsh")
	e, err := l.Units.Add(t.Context(), "my.toml", text, false)
	require.NoError(t, err)
	require.Equal(t, "saltmarsh", e.Name)
	require.Equal(t, 1, e.Revision)
	require.Equal(t, text, e.Text)
	require.Equal(t, "saltmarsh", e.Value.Name)
	require.Equal(t, filepath.Join(l.Home(), "units", "saltmarsh.toml"), e.Path)
	onDisk, err := os.ReadFile(e.Path)
	require.NoError(t, err)
	require.Equal(t, text, onDisk)
	require.Equal(t, []string{"lock", "units/saltmarsh.toml"}, files(t, l))
}

func TestABrokenUnitIsNotTaken(t *testing.T) {
	l := open(t)
	_, err := l.Units.Add(t.Context(), "my.toml", []byte("format = 'echowright-unit/1'\nnmae = 'x'\n"), false)
	require.ErrorContains(t, err, `my.toml:2: unknown key nmae; did you mean "name"?`)
	var wrong *stricttoml.FormatError
	require.ErrorAs(t, err, &wrong)
	for _, name := range []string{"con", "nul.tape", "com7"} {
		_, err = l.Units.Add(t.Context(), "my.toml", unitText(name), false)
		require.ErrorContains(t, err, "some systems keep that name for themselves; choose another")
	}
	require.NoDirExists(t, l.Home())
}

func TestANameIsReplacedOnlyWhenAsked(t *testing.T) {
	l := open(t)
	add(t, l, "saltmarsh")
	_, err := l.Units.Add(t.Context(), "t.toml", unitText("saltmarsh", "second"), false)
	var exists *ExistsError
	require.ErrorAs(t, err, &exists)
	require.EqualError(t, err, `unit "saltmarsh" is in the library already (`+exists.Path+`): choose another name, or ask to replace it`)

	for want, more := range []string{1: "first", 2: "second", 3: "third"} {
		if want == 0 {
			continue
		}
		e, err := l.Units.Add(t.Context(), "t.toml", unitText("saltmarsh", more), true)
		require.NoError(t, err)
		require.Equal(t, want+1, e.Revision)
		again, err := l.Units.Add(t.Context(), "t.toml", unitText("saltmarsh", more), true)
		require.NoError(t, err)
		require.Equal(t, want+1, again.Revision, "the same text is no revision")
	}
	require.Equal(t, []string{
		"lock",
		"trash/units/saltmarsh/2026-03-14-193000-2.toml",
		"trash/units/saltmarsh/2026-03-14-193000-3.toml",
		"trash/units/saltmarsh/2026-03-14-193000.toml",
		"units/saltmarsh.toml",
	}, files(t, l))
	first, err := os.ReadFile(filepath.Join(l.Home(), "trash/units/saltmarsh/2026-03-14-193000.toml"))
	require.NoError(t, err)
	require.Equal(t, unitText("saltmarsh"), first)
}

func TestRemoveDeletesNothing(t *testing.T) {
	l := open(t)
	add(t, l, "saltmarsh", "tidal")
	trashed, err := l.Units.Remove(t.Context(), "saltmarsh")
	require.NoError(t, err)
	text, err := os.ReadFile(trashed)
	require.NoError(t, err)
	require.Equal(t, unitText("saltmarsh"), text)
	require.Equal(t, []string{"lock", "trash/units/saltmarsh/2026-03-14-193000.toml", "units/tidal.toml"}, files(t, l))

	_, err = l.Units.Get("saltmarsh")
	var missing *NotFoundError
	require.ErrorAs(t, err, &missing)
	_, err = l.Units.Remove(t.Context(), "saltmarsh")
	require.ErrorAs(t, err, &missing)

	add(t, l, "saltmarsh")
	e, err := l.Units.Get("saltmarsh")
	require.NoError(t, err)
	require.Equal(t, 2, e.Revision, "the second text of that name")
}

func TestGetOffersTheNearestName(t *testing.T) {
	l := open(t)
	add(t, l, "saltmarsh-drum-1", "tidal")
	for name, want := range map[string]string{
		"saltmarsh-drum1":  `no unit "saltmarsh-drum1" in the library: did you mean "saltmarsh-drum-1"?`,
		"tiadl":            `no unit "tiadl" in the library: did you mean "tidal"?`,
		"elsewhere":        "no unit \"elsewhere\" in the library: `echowright library list` shows those there are",
		"../units/tidal":   "no unit \"../units/tidal\" in the library: `echowright library list` shows those there are",
		"":                 "no unit \"\" in the library: `echowright library list` shows those there are",
		"/etc/passwd\x1b[": "no unit \"/etc/passwd\\x1b[\" in the library: `echowright library list` shows those there are",
	} {
		_, err := l.Units.Get(name)
		require.EqualError(t, err, want)
		_, err = l.Units.Remove(t.Context(), name)
		require.EqualError(t, err, want)
	}
	require.Len(t, files(t, l), 3)
}

func TestABrokenFileHidesNoOther(t *testing.T) {
	l := open(t)
	add(t, l, "b", "d", "a-b", "a")
	folder := filepath.Join(l.Home(), "units")
	write := func(name string, text []byte) {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), text, 0o600))
	}
	write("c.toml", []byte("format = 'echowright-unit/1'\nname = 3\n"))
	write("moved.toml", unitText("d"))
	write("My Unit.toml", unitText("d"))
	write("notes.txt", []byte("not a unit"))
	write(".hidden.toml", []byte("not a unit"))
	write(".partial-0123", []byte("left by a killed program"))
	require.NoError(t, os.Mkdir(filepath.Join(folder, "folder.toml"), 0o755))
	write("large.toml", make([]byte, 2<<20))

	units, err := l.Units.List()
	require.NoError(t, err)
	wants := map[string]string{
		"c":       "c.toml:2: name is the whole number 3; write a text in quotes",
		"moved":   `moved.toml: holds the unit "d"; rename the file to d.toml, or change the name in it`,
		"My Unit": `unit "My Unit": use lower-case letters, digits and single - _ . between them; rename the file`,
		"folder":  "is no plain file",
		"large":   "a unit file at most 1048576",
	}
	var names []string
	for _, u := range units {
		names = append(names, u.Name)
		if want, broken := wants[u.Name]; broken {
			require.ErrorContains(t, u.Err, want)
			continue
		}
		require.NoError(t, u.Err, u.Name)
		require.Equal(t, u.Name, u.Value.Name)
	}
	require.Equal(t, []string{"My Unit", "a", "a-b", "b", "c", "d", "folder", "large", "moved"}, names)

	_, err = l.Units.Get("c")
	require.ErrorContains(t, err, "c.toml:2: name is the whole number 3")
	trashed, err := l.Units.Remove(t.Context(), "c")
	require.NoError(t, err, "what is broken can be removed")
	require.FileExists(t, trashed)
	add(t, l, "c")
	require.NoFileExists(t, filepath.Join(folder, ".partial-0123"))
}

func TestDevicesAndRigsAreKeptTheSameWay(t *testing.T) {
	l := open(t)
	shipped, err := os.ReadFile(filepath.Join("..", "profiles", "five-line.toml"))
	require.NoError(t, err)
	d, err := l.Devices.Add(t.Context(), "five-line.toml", shipped, false)
	require.NoError(t, err)
	require.Equal(t, "five-line", d.Value.Name)
	require.Equal(t, shipped, d.Text)

	unit := 3
	text, err := FormatRig(Rig{Name: "left-rack", Device: "five-line", Port: "raw:/dev/snd/midiC1D0", Unit: &unit})
	require.NoError(t, err)
	r, err := l.Rigs.Add(t.Context(), "rig", text, false)
	require.NoError(t, err)
	require.Equal(t, 3, *r.Value.Unit)
	_, err = l.Rigs.Get("leftrack")
	require.EqualError(t, err, `no rig "leftrack" in the library: did you mean "left-rack"?`)
	_, err = l.Devices.Get("x")
	require.EqualError(t, err, "no device \"x\" in the library: `echowright device list` shows those there are")
	require.Equal(t, []string{"devices/five-line.toml", "lock", "rigs/left-rack.toml"}, files(t, l))
}

// hold takes the library's lock as another process would.
func hold(t *testing.T, l *Library) *flock.Flock {
	t.Helper()
	require.NoError(t, os.MkdirAll(l.Home(), 0o755))
	lock := flock.New(filepath.Join(l.Home(), "lock"))
	ok, err := lock.TryLock()
	require.NoError(t, err)
	require.True(t, ok)
	return lock
}

func TestAChangeWaitsForTheLock(t *testing.T) {
	l := open(t)
	synctest.Test(t, func(t *testing.T) {
		other := hold(t, l)
		time.AfterFunc(3*time.Second, func() { _ = other.Unlock() })
		begin := time.Now()
		add(t, l, "saltmarsh")
		require.GreaterOrEqual(t, time.Since(begin), 3*time.Second)
		require.Less(t, time.Since(begin), 3*time.Second+2*lockRetry, "it looks every %v", lockRetry)
	})
}

func TestAChangeDoesNotWaitForEver(t *testing.T) {
	l := open(t)
	synctest.Test(t, func(t *testing.T) {
		other := hold(t, l)
		begin := time.Now()
		_, err := l.Units.Add(t.Context(), "t.toml", unitText("saltmarsh"), false)
		var locked *LockedError
		require.ErrorAs(t, err, &locked)
		require.EqualError(t, err, "another echowright is changing the library (it holds "+filepath.Join(l.Home(), "lock")+"): wait until it is done and try again")
		require.Equal(t, lockWait, time.Since(begin))

		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		_, err = l.Units.Remove(ctx, "saltmarsh")
		require.ErrorIs(t, err, context.DeadlineExceeded)
		require.NotErrorAs(t, err, &locked)

		units, err := l.Units.List()
		require.NoError(t, err, "reading asks for no lock")
		require.Empty(t, units)
		require.NoError(t, other.Unlock())
	})
}
