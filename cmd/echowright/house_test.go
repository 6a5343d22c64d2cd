package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

type rule struct {
	room string
	may  []string
	not  []string // packages of the world outside that the room must do without
}

// The house: from which rooms a room may import, beside the world outside. A
// pattern that ends in /… stands for a room and all below it. The first pattern
// that fits a room is its rule; a room without a rule is a room too many.
var house = []rule{
	{room: "preset", not: filesAndClocks},
	{room: "preset/nearest", not: filesAndClocks},
	{room: "preset/stricttoml", may: []string{"preset", "preset/nearest"}},
	{room: "preset/fastlength", not: filesAndClocks},
	{room: "preset/window", not: filesAndClocks},
	{room: "preset/measure", may: []string{"preset", "preset/fastlength", "preset/window"}, not: filesAndClocks},
	{room: "preset/signals", may: []string{"preset", "preset/nearest", "preset/stricttoml"}},
	{room: "preset/measure/…", may: []string{"preset", "preset/fastlength", "preset/signals", "preset/measure/…"}, not: filesAndClocks},
	{room: "preset/compare/…", may: []string{"preset", "preset/fastlength", "preset/window", "preset/signals", "preset/measure/…", "preset/compare"}, not: filesAndClocks},
	{room: "preset/picture", may: []string{"preset"}, not: filesAndClocks},
	{room: "preset/render", may: []string{"preset"}, not: filesAndClocks},
	{room: "preset/…", may: []string{"preset", "preset/nearest", "preset/stricttoml"}},

	{room: "midi", not: filesAndClocks},
	{room: "midi/port", may: []string{"midi"}},
	{room: "midi/songfile", may: []string{"midi", "preset"}, not: filesAndClocks},
	{room: "midi/songclock", may: []string{"midi", "preset"}, not: filesAndClocks},
	{room: "midi/…", may: []string{"midi", "midi/port/…"}},

	{room: "profiles/arrange", may: []string{"preset", "profiles"}, not: filesAndClocks},
	{room: "profiles/learn", may: []string{"midi"}, not: filesAndClocks},
	{room: "profiles/sketch", not: filesAndClocks},
	{room: "profiles/chart", may: []string{"preset", "profiles"}, not: filesAndClocks},
	{room: "profiles/emulator", may: []string{"preset", "midi/port"}},
	{room: "profiles", may: []string{"midi", "preset", "preset/nearest", "preset/stricttoml"}},

	{room: "library/exchange", may: []string{"library/…", "profiles", "profiles/arrange", "midi/…", "preset/…"}},
	{room: "library/wholefile"},
	{room: "library", may: []string{"library/wholefile", "profiles", "preset/…"}},

	{room: "examples"},
	{room: "cmd/internal/ui", may: []string{"preset/…"}},
	{room: "cmd/…", may: []string{"cmd/…", "library/…", "profiles/…", "midi/…", "preset/…", "examples"}},
}

// A room that only works things out needs neither.
var filesAndClocks = []string{"os", "io/fs", "net", "os/exec", "path/filepath"}

const module = "echowright"

// violation says what is wrong with an import of a room, "" if nothing is.
func violation(room, imported string) string {
	i := slices.IndexFunc(house, func(r rule) bool { return covers(r.room, room) })
	inside, ours := strings.CutPrefix(imported, module+"/")
	switch {
	case i < 0:
		return "the house has no such room: say in house_test.go from where it may import"
	case ours && !slices.ContainsFunc(house[i].may, func(p string) bool { return covers(p, inside) }):
		return "imports " + inside + ": the arrow runs the wrong way"
	case slices.Contains(house[i].not, imported):
		return "imports " + imported + ": it has to do without files and the world outside"
	}
	return ""
}

func covers(pattern, room string) bool {
	if above, all := strings.CutSuffix(pattern, "/…"); all {
		return room == above || strings.HasPrefix(room, above+"/")
	}
	return pattern == room
}

// imports calls note for each import of each Go file below root. Tests may look
// across the house, so they are left out.
func imports(t *testing.T, root string, note func(file, room, imported string)) (files int) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(root, func(file string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if name := e.Name(); e.IsDir() && file != root && (strings.HasPrefix(name, ".") || name == "testdata") {
			return filepath.SkipDir
		}
		if !strings.HasSuffix(file, ".go") || strings.HasSuffix(file, "_test.go") {
			return nil
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		files++
		inside, err := filepath.Rel(root, file)
		if err != nil {
			return err
		}
		for _, i := range parsed.Imports {
			imported, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			note(inside, path.Dir(filepath.ToSlash(inside)), imported)
		}
		return nil
	}))
	return files
}

func TestArrowsRunDownwardsOnly(t *testing.T) {
	files := imports(t, "../..", func(file, room, imported string) {
		if v := violation(room, imported); v != "" {
			t.Errorf("%s %s", file, v)
		}
	})
	require.Greater(t, files, 50, "the test must see the house to say something about it")
}

func TestTheRuleFindsArrowsThatRunTheWrongWay(t *testing.T) {
	for _, c := range []struct {
		room, imported string
		wrong          bool
	}{
		{"preset", "echowright/midi", true},
		{"preset", "os", true},
		{"preset/measure", "io/fs", true},
		{"preset/measure", "echowright/preset/wavfile", true},
		{"preset/measure", "echowright/preset", false},
		{"preset/measure/sweep", "echowright/preset/measure", false},
		{"preset/wavfile", "os", false},
		{"midi", "echowright/preset", true},
		{"midi/transfer", "echowright/profiles", true},
		{"midi/transfer", "echowright/midi/port", false},
		{"profiles/arrange", "echowright/midi/port", true},
		{"profiles/emulator", "echowright/profiles", true},
		{"library", "echowright/cmd/internal/ui", true},
		{"library/exchange", "echowright/profiles/arrange", false},
		{"library", "echowright/library/exchange", true},
		{"cmd/internal/ui", "echowright/library", true},
		{"cmd/internal/cli", "echowright/library/exchange", false},
		{"utilities", "fmt", true},
		{"preset", "math", false},
	} {
		require.Equalf(t, c.wrong, violation(c.room, c.imported) != "", "%s → %s", c.room, c.imported)
	}
}

// topFloor is all that stands at the top of the tree, beside dot files.
var topFloor = []string{
	"cmd", "midi", "preset", "library", "profiles", "examples",
	"go.mod", "go.sum", "README.md", "DEVELOPERS.md", "LICENSE",
}

func TestNothingElseStandsAtTheTop(t *testing.T) {
	entries, err := os.ReadDir("../..")
	require.NoError(t, err)
	require.NotEmpty(t, entries)
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".") && !slices.Contains(topFloor, e.Name()) {
			t.Errorf("%s stands at the top of the tree: it belongs into one of the rooms", e.Name())
		}
	}
}
