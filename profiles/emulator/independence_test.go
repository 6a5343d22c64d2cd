package emulator

import (
	"go/parser"
	"go/token"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The firmware and the device profiles are written from the same manual so that
// they can disagree: no packing, checksum or codec is shared.
func TestTheFirmwareSharesNothingWithTheCodec(t *testing.T) {
	allowed := map[string]bool{"echowright/preset": true, "echowright/midi/port": true}
	files, err := os.ReadDir(".")
	require.NoError(t, err)
	read := 0
	for _, file := range files {
		if !strings.HasSuffix(file.Name(), ".go") || strings.HasSuffix(file.Name(), "_test.go") {
			continue
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), file.Name(), nil, parser.ImportsOnly)
		require.NoError(t, err)
		read++
		for _, spec := range parsed.Imports {
			path, err := strconv.Unquote(spec.Path.Value)
			require.NoError(t, err)
			ours := strings.HasPrefix(path, "echowright/")
			foreign := strings.Contains(path, ".")
			require.True(t, !foreign && (!ours || allowed[path]), "%s imports %s", file.Name(), path)
		}
	}
	require.Greater(t, read, 5)
}
