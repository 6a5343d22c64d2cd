package profiles

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

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
