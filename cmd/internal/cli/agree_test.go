package cli

import (
	"bytes"
	"context"
	"io"
	"testing"
	"testing/synctest"
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
	for answer, want := range map[string]error{"": nil, "y\n": nil, "n\n": errNotAgreed, "\n": errNotAgreed, "who knows": errNotAgreed} {
		c := &call{Env: Env{Stdin: bytes.NewBufferString(answer)}}
		require.Equal(t, want, c.agree(t.Context(), "?"), "%q piped in", answer)
	}
	synctest.Test(t, func(t *testing.T) {
		silent, hold := io.Pipe() // open, and nobody writes to it
		defer hold.Close()
		began := time.Now()
		require.NoError(t, (&call{Env: Env{Stdin: silent}}).agree(t.Context(), "?"))
		require.Equal(t, pipedAnswer, time.Since(began))
	})
}
