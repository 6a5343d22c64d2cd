package cli

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/profiles"
)

// What the guide shows of two dumps compared is what is shown: the time of tap 2
// goes from 62 % (2480 = 09B0h) to 66 % (2640 = 0A50h), low byte first at byte 7.
func TestTheGuidesDumpsAreComparedAsItSays(t *testing.T) {
	d, err := profiles.Shipped("two-by-three")
	require.NoError(t, err)
	dump := func(name string, code int) string {
		s := d.Rest()
		for parameter, code := range map[string]int{"a-longest": 500, "a-tap-1-time": 1600, "a-tap-1-level": 0, "a-tap-2-level": 6, "a-tap-2-time": code} {
			s.Codes[d.Parameter(parameter)] = code
		}
		s.Name = "fen-dis"
		step, err := d.WriteSlotStep(0, 1, d.AppendSlot(nil, s))
		require.NoError(t, err)
		return write(t, name, string(step.Send))
	}
	got := world(t).run(t, "listen", "--learn", dump("before.syx", 2480), dump("after.syx", 2640))
	require.Equal(t, exitDone, got.code, got.talk)
	guide, err := os.ReadFile(filepath.Join("..", "..", "..", "profiles", "README.md"))
	require.NoError(t, err)
	shown := regexp.MustCompile("(?s)```console\n(.*?)```").FindSubmatch(guide)
	require.NotNil(t, shown)
	told := strings.Split(strings.TrimSuffix(string(shown[1]), "\n"), "\n")
	require.Len(t, told, 2)
	for _, line := range told {
		require.Contains(t, lines(got), line)
	}
	require.Contains(t, told[1], "byte 7 from 176 to 80 (bits 5 6 7), byte 8 from 9 to 10", "B0h to 50h, 09h to 0Ah")
}
