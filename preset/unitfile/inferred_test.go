package unitfile

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func TestAnInferredHeadIsFlagged(t *testing.T) {
	u := preset.Unit{Name: "even", Kind: preset.Drum, Heads: []preset.Head{{Head: 2, Delay: 120}, {Head: 4, Delay: 240}}}
	u, err := u.Predict(3, 3)
	require.NoError(t, err)
	text, err := Format(u)
	require.NoError(t, err)
	require.Contains(t, string(text), "head = 3\ndelay_ms = 180.0\n")
	require.Contains(t, string(text), "inferred = true\n")
	back, err := Parse("even.toml", text)
	require.NoError(t, err)
	require.Equal(t, u, back)
}
