package nearest

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestName(t *testing.T) {
	keys := []string{"head", "delay_ms", "delay_sd_ms", "level_db", "level_sd_db", "inverted", "low_cut_hz", "high_cut_hz"}
	commands := []string{"measure", "library", "retime", "plan", "push", "read", "render", "rig"}
	for _, c := range []struct {
		name, word string
		known      []string
		want       string
	}{
		{"a letter too few", "lvel_db", keys, "level_db"},
		{"a letter too many", "delayy_ms", keys, "delay_ms"},
		{"a wrong letter", "level_dB", keys, "level_db"},
		{"neighbours swapped", "dealy_ms", keys, "delay_ms"},
		{"neighbours swapped in a short name", "rgi", commands, "rig"},
		{"capitals only", "Head", keys, "head"},
		{"the name itself", "head", keys, "head"},
		{"unit forgotten", "inverte", keys, "inverted"},
		{"beginning of one name", "low", keys, "low_cut_hz"},
		{"beginning of two names", "level", keys, ""},
		{"beginning that is too short", "hi", keys, ""},
		{"something else", "tempo", keys, ""},
		{"all letters wrong in a short name", "x", []string{"a"}, ""},
		{"nothing typed", "", keys, ""},
		{"nothing known", "head", nil, ""},
		{"the nearer of two", "pusk", commands, "push"},
		{"the first of two equally near", "rea", []string{"read", "real"}, "read"},
		{"letters beyond ASCII count once", "grün", []string{"grun"}, "grun"},
		{"a very long word", strings.Repeat("head", 1<<18), keys, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, Name(c.word, c.known))
		})
	}
}

// The distances of the first three pairs are the textbook's examples for
// insertion, deletion and substitution; the last shows what tells optimal string
// alignment from the unrestricted distance (2): no place is edited twice.
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"kitten", "sitting", 3},
		{"saturday", "sunday", 3},
		{"", "abc", 3},
		{"ab", "ba", 1},
		{"ca", "abc", 3},
	} {
		require.Equal(t, c.want, distance([]rune(c.a), []rune(c.b)), "%q to %q", c.a, c.b)
		require.Equal(t, c.want, distance([]rune(c.b), []rune(c.a)), "%q to %q", c.b, c.a)
	}
}

func FuzzName(f *testing.F) {
	f.Add("lvel_db", "level_db")
	f.Add("", "a")
	f.Add("\xff\xfe", "ab")
	f.Fuzz(func(t *testing.T, word, name string) {
		got := Name(word, []string{name})
		require.True(t, got == "" || got == name)
		if name != "" {
			require.Equal(t, name, Name(name, []string{"unlike this one at all", name}))
		}
	})
}
