package cli

import (
	"bytes"
	"context"
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/require"

	"echowright/cmd/internal/ui"
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
	const question = "Write 3 slots? [y/N] "
	for answer, want := range map[string]error{
		"y\n": nil, "YES\n": nil, "n\n": errNotAgreed, "\n": errNotAgreed, "maybe\n": errNotAgreed,
	} {
		hand, c, asked := terminal(t)
		_, err := io.WriteString(hand, answer)
		require.NoError(t, err)
		require.Equal(t, want, c.agree(t.Context(), "Write 3 slots?"), "%q", answer)
		require.Equal(t, question, asked.String(), "whoever answers ends the line")
	}
	hand, c, asked := terminal(t)
	_, err := io.WriteString(hand, "\x04") // Ctrl-D, the end of the input
	require.NoError(t, err)
	require.Equal(t, errNotAgreed, c.agree(t.Context(), "Write 3 slots?"))
	require.Equal(t, question+"\n", asked.String())
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

func TestWithoutATerminalTheNextLineIsTheAnswer(t *testing.T) {
	no := misused(errNobodyAsked)
	require.Equal(t, exitMisused, exitCode(no))
	for input, want := range map[string]struct {
		err  error
		left string
	}{
		"":                {no, ""},
		"y":               {nil, ""},
		"y\nnext\n":       {nil, "next\n"},
		" Yes \r\nnext":   {nil, "next"},
		"n\ny\n":          {no, "y\n"},
		"\ny\n":           {no, "y\n"},
		"a-snapshot\ny\n": {no, "y\n"},
		"y" + strings.Repeat(" ", 100) + "or rather not\n": {no, strings.Repeat(" ", 21) + "or rather not\n"},
	} {
		in, asked := strings.NewReader(input), new(bytes.Buffer)
		c := &call{Env: Env{Stdin: in, Stderr: asked}}
		require.Equal(t, want.err, c.agree(t.Context(), "Write 3 slots?"), "%q", input)
		require.Equal(t, "Write 3 slots? [y/N] \n", asked.String())
		left, err := io.ReadAll(in)
		require.NoError(t, err)
		require.Equal(t, want.left, string(left), "what stands behind the answer is not taken")
	}
}

func TestAnInputThatSaysNothingIsWaitedForUntilCtrlC(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		silent, hold := io.Pipe() // open, and nobody writes to it
		defer hold.Close()
		interrupted, stop := context.WithTimeout(t.Context(), time.Hour)
		defer stop()
		began := time.Now()
		c := &call{Env: Env{Stdin: silent, Stderr: io.Discard}}
		require.ErrorIs(t, c.agree(interrupted, "?"), context.DeadlineExceeded)
		require.Equal(t, time.Hour, time.Since(began))
	})
}

func TestWhatAQuestionIsAboutIsAlwaysShown(t *testing.T) {
	for asked, want := range map[bool]string{true: "slot 4 holds something else\n", false: ""} {
		var talk bytes.Buffer
		c := &call{Env: Env{Stderr: &talk, Getenv: func(string) string { return "" }}, talk: ui.Plain(io.Discard), quiet: true}
		c.about(asked, "slot 4 holds something else")
		require.Equal(t, want, talk.String())
	}
}
