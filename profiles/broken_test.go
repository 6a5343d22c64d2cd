package profiles

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The corpus: each profile in testdata/broken is wrong in one way, and begins
// with what is to be said about it, line, subject, problem and mend:
//
//	# want 12: scale.time.codes: [100 0]: give the least and the greatest code, such as [0, 127]
//
// Several lines of that kind are several mistakes, in the order of the file; line
// 0 stands for the file as a whole.
func TestBrokenProfilesOfTheCorpus(t *testing.T) {
	files, err := filepath.Glob("testdata/broken/*.toml")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 40)
	for _, file := range files {
		name := filepath.Base(file)
		t.Run(strings.TrimSuffix(name, ".toml"), func(t *testing.T) {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			_, err = Parse(name, text)
			require.EqualError(t, err, wanted(name, string(text)))
		})
	}
}

// wanted is the error that the file's first lines ask for.
func wanted(name, text string) string {
	var all []string
	for line := range strings.Lines(text) {
		want, ok := strings.CutPrefix(strings.TrimSuffix(line, "\n"), "# want ")
		if !ok {
			break
		}
		all = append(all, name+":"+strings.TrimPrefix(want, "0"))
	}
	return strings.Join(all, "\n")
}

// What is too large or too deep is refused at once: the times are far above what
// it takes (a thousandth), and far below what a reader gone astray would need.
func TestHugeAndDeepProfilesAreRefusedQuickly(t *testing.T) {
	head := "format = \"echowright-device/1\"\nname = \"deep\"\n"
	for name, text := range map[string]string{
		"ten megabytes":         head + strings.Repeat("# nothing\n", 1<<20),
		"lists in lists":        head + "codes = " + strings.Repeat("[", 100_000) + strings.Repeat("]", 100_000),
		"tables in tables":      head + "a = " + strings.Repeat("{ a = ", 50_000) + "1" + strings.Repeat(" }", 50_000),
		"names with many dots":  head + "[" + strings.Repeat("a.", 100_000) + "a]",
		"a line of many taps":   head + "[manners]\n[line]\nnames = [" + strings.Repeat(`"a",`, 200_000) + "]",
		"many long scales":      head + "[manners]\n" + longScales(),
		"a scale of many holes": head + "[manners]\n[scale.x]\nunit = \"ms\"\ncodes = [0, 2000000]\nholes = [" + strings.Repeat("[1,2],", 100_000) + "]",
	} {
		t.Run(name, func(t *testing.T) {
			start := time.Now()
			_, err := Parse("deep.toml", []byte(text))
			require.Error(t, err)
			require.Less(t, time.Since(start), 2*time.Second)
		})
	}
}

// longScales is many times the codes that one device can have.
func longScales() string {
	var text strings.Builder
	for i := range 2000 {
		fmt.Fprintf(&text, "[scale.s%d]\ncodes = [0, 2000000]\nlinear = { code = 0, is = 0, step = 1 }\n", i)
	}
	return text.String()
}
