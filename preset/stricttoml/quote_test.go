package stricttoml

import (
	"testing"

	"github.com/BurntSushi/toml"
	"github.com/stretchr/testify/require"
)

func TestQuote(t *testing.T) {
	for s, want := range map[string]string{
		"":                   `""`,
		"plain # no comment": `"plain # no comment"`,
		"a \"b\" \\ 'c'":     `"a \"b\" \\ 'c'"`,
		"one\n\ttwo":         `"one\n\ttwo"`,
		"größer µ":           `"größer µ"`,
		"\x1b[2J\x00\x7f\r":  `"\U0000001B[2J\U00000000\U0000007F\U0000000D"`,
		"a\u200db\ufeff":     `"a\U0000200Db\U0000FEFF"`,
	} {
		require.Equal(t, want, Quote(s))
	}
}

func FuzzQuote(f *testing.F) {
	f.Add("a \"b\" \\ \n\t\x00 \u2028 größer")
	f.Add("\xff")
	f.Fuzz(func(t *testing.T, s string) {
		quoted := Quote(s)
		require.NotContains(t, quoted, "\n")
		var v struct{ K string }
		_, err := toml.Decode("K = "+quoted, &v)
		require.NoError(t, err)
		require.Equal(t, string([]rune(s)), v.K) // each stray byte one replacement character
	})
}
