package profiles

import (
	"os"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// The guide must not rot: its profiles are parsed, its fragments known, its worked
// example is the shipped profile, its bytes are what is sent, and no key is missing.

func guide(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile("README.md")
	require.NoError(t, err)
	return string(text)
}

var fences = regexp.MustCompile("(?ms)^```([a-z -]+)\n(.*?)^```$")

// blocks are the guide's blocks of that kind.
func blocks(t *testing.T, kind string) []string {
	t.Helper()
	var all []string
	for _, m := range fences.FindAllStringSubmatch(guide(t), -1) {
		if m[1] == kind {
			all = append(all, m[2])
		}
	}
	require.NotEmpty(t, all, "the guide has no blocks of %q", kind)
	return all
}

func TestTheGuidesWholeProfilesAreProfiles(t *testing.T) {
	for _, text := range blocks(t, "toml whole") {
		_, err := Parse("README.md", []byte(text))
		require.NoError(t, err, text)
	}
}

func TestTheGuidesFragmentsHaveKnownKeys(t *testing.T) {
	const head = "format = \"echowright-device/1\"\n"
	for _, text := range append(blocks(t, "toml"), blocks(t, "toml two-by-three")...) {
		var f deviceFile
		_, err := kind.Decode("README.md", []byte(head+strings.TrimPrefix(text, head)), &f)
		require.NoError(t, err, text)
	}
	var f deviceFile
	_, err := kind.Decode("README.md", []byte(head+"[manners]\ngap = 5\n"), &f)
	require.Error(t, err, "a key that is not known is found")
}

// A section is a table with its lines. Tables of a list are told apart by the line
// that says their role or name, whichever comes first.
func sections(text string) map[string][]string {
	all := map[string][]string{}
	table := ""
	for _, line := range strings.Split(text, "\n") {
		line = strings.Join(strings.Fields(strings.SplitN(line, "#", 2)[0]), " ")
		switch list := strings.HasPrefix(table, "[["); {
		case line == "":
		case strings.HasPrefix(line, "["):
			table = line
		case list && !strings.Contains(table, " "): // its first line
			table += " " + line
			all[table] = append(all[table], line)
		default:
			all[table] = append(all[table], line)
		}
	}
	return all
}

func TestTheGuidesExampleIsTheShippedProfile(t *testing.T) {
	told := map[string][]string{}
	for _, text := range blocks(t, "toml two-by-three") {
		for table, lines := range sections(text) {
			for _, line := range lines {
				if !contains(told[table], line) {
					told[table] = append(told[table], line)
				}
			}
		}
	}
	text, err := shipped.ReadFile("two-by-three.toml")
	require.NoError(t, err)
	stated := sections(string(text))
	require.Greater(t, len(stated), 20)
	for table, lines := range stated {
		require.ElementsMatch(t, lines, told[table], "%s: lines of two-by-three.toml, and of the guide", table)
	}
	require.Len(t, told, len(stated), "the guide has tables that two-by-three.toml has not")
}

func contains(all []string, line string) bool {
	for _, one := range all {
		if one == line {
			return true
		}
	}
	return false
}

// Lines of parameter, code and message.
var exampleLine = regexp.MustCompile(`^(\S+) +(\d+) +(F0 .*)$`)

func TestTheGuidesBytesAreWhatIsSent(t *testing.T) {
	d := twoByThree(t)
	n := 0
	for _, text := range blocks(t, "text") {
		for _, line := range strings.Split(strings.TrimSpace(text), "\n") {
			m := exampleLine.FindStringSubmatch(line)
			require.NotNil(t, m, line)
			i := d.Parameter(m[1])
			require.NotEqual(t, None, i, line)
			code, err := d.Parameters[i].Scale.Parse("#" + m[2])
			require.NoError(t, err, line)
			step, err := d.SetStep(0, i, code)
			require.NoError(t, err, line)
			require.Equal(t, m[3], midi.Hex(step.Send), line)
			n++
		}
	}
	require.Equal(t, 5, n)
}

// keys are all that a profile may hold, however deep.
func keys(t reflect.Type, into map[string]bool) {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice || t.Kind() == reflect.Map {
		t = t.Elem()
	}
	if t.Kind() != reflect.Struct {
		return
	}
	for i := range t.NumField() {
		f := t.Field(i)
		if key := f.Tag.Get("toml"); key != "" {
			into[key] = true
		}
		keys(f.Type, into)
	}
}

func TestTheGuideNamesEveryKey(t *testing.T) {
	all := map[string]bool{}
	keys(reflect.TypeFor[deviceFile](), all)
	require.Greater(t, len(all), 80)
	_, reference, found := strings.Cut(guide(t), "\n## All keys\n")
	require.True(t, found)
	reference, _, _ = strings.Cut(reference, "\n## Pitfalls\n")
	for key := range all {
		named := regexp.MustCompile("`[^`]*\\b" + regexp.QuoteMeta(key) + "\\b[^`]*`")
		require.Regexp(t, named, reference, "key %s", key)
	}
}

// The first column of the reference's tables that begin with "key" holds keys, and
// no others.
func TestTheGuideNamesNoOtherKeys(t *testing.T) {
	all := map[string]bool{"format": true}
	keys(reflect.TypeFor[deviceFile](), all)
	named, n := regexp.MustCompile("`([a-z_]+)`"), 0
	in := false
	for _, line := range strings.Split(guide(t), "\n") {
		switch {
		case strings.HasPrefix(line, "| key |"):
			in = true
		case !strings.HasPrefix(line, "|"):
			in = false
		case in:
			first := strings.SplitN(line, "|", 3)[1]
			for _, m := range named.FindAllStringSubmatch(first, -1) {
				require.True(t, all[m[1]], "key %s is none", m[1])
				n++
			}
		}
	}
	require.Greater(t, n, 70)
}

func TestTheGuideNamesEveryRoleUnitAndPacking(t *testing.T) {
	text := guide(t)
	for _, roles := range [][]Role{tapRoles, lineRoles, sharedRoles} {
		for _, r := range roles {
			if r != RoleOther {
				require.Contains(t, text, "`"+string(r)+"`")
			}
		}
	}
	for unit := range senses {
		if unit != "" {
			require.Contains(t, text, "`"+unit+"`")
		}
	}
	for name := range packings {
		require.Contains(t, text, "`"+name+"`")
	}
	for name := range sums {
		require.Contains(t, text, name)
	}
	for _, name := range fieldNames {
		require.Contains(t, text, "{"+string(name)+"}")
	}
}
