package cli

import (
	"bytes"
	"context"
	"io"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/require"
)

// terminal is a terminal and the hand that types on it.
func terminal(t *testing.T) (hand io.ReadWriter, c *call, asked *bytes.Buffer) {
	t.Helper()
	leader, follower, err := pty.Open()
	if err != nil {
		t.Skipf("SKIP: no pseudo-terminal here: %v", err)
	}
	t.Cleanup(func() {
		leader.Close()
		follower.Close()
	})
	asked = new(bytes.Buffer)
	return leader, &call{Env: Env{Stdin: follower, Stderr: asked}}, asked
}

func TestAtATerminalItAsks(t *testing.T) {
	for answer, want := range map[string]error{
		"y\n": nil, "YES\n": nil, "n\n": errNotAgreed, "\n": errNotAgreed, "maybe\n": errNotAgreed,
		"\x04": errNotAgreed, // Ctrl-D, the end of the input
	} {
		hand, c, asked := terminal(t)
		_, err := io.WriteString(hand, answer)
		require.NoError(t, err)
		require.Equal(t, want, c.agree(t.Context(), "Write 3 slots?"), "%q", answer)
		require.Equal(t, "Write 3 slots? [y/N] ", asked.String())
	}
}

func TestCtrlCIsNoAgreement(t *testing.T) {
	_, c, _ := terminal(t)
	interrupted, stop := context.WithTimeout(t.Context(), time.Millisecond)
	defer stop()
	require.ErrorIs(t, c.agree(interrupted, "?"), context.DeadlineExceeded, "nobody typed anything")

	hand, c, _ := terminal(t)
	_, err := io.WriteString(hand, "y\n")
	require.NoError(t, err)
	require.Error(t, c.agree(interrupted, "?"), "an answer that comes too late is none")
}

func TestWhereNobodyCanBeAskedTheCommandIsTheAnswer(t *testing.T) {
	require.NoError(t, (&call{Env: Env{Stdin: &bytes.Buffer{}}}).agree(t.Context(), "?"))
}
