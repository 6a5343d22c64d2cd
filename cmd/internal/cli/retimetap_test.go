package cli

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/require"
	"golang.org/x/term"
)

// ticking is a clock that goes on by step each time it is looked at.
func ticking(step time.Duration) func() time.Time {
	now := time.Date(2026, 3, 14, 19, 30, 0, 0, time.UTC)
	return func() time.Time {
		now = now.Add(step)
		return now
	}
}

func TestTappedInLines(t *testing.T) {
	unit := write(t, "unit.toml", helpUnit)
	for name, c := range map[string]struct {
		in   string
		step time.Duration
		code int
		says string // in the result, or in the talk where it failed
	}{
		"to the end of the input": {"\n\n\n\n\n", 500 * time.Millisecond, exitDone, "tapped: 120.00 BPM, 500.0 ms a beat ± 0.0 ms; 4 intervals counted, 0 dropped"},
		"words, and q":            {"a\nb\nc\nd\nq\n\n\n", 400 * time.Millisecond, exitDone, "tapped: 150.00 BPM, 400.0 ms a beat ± 0.0 ms; 3 intervals"},
		"no taps":                 {"", time.Second, exitFailed, "--tap: 0 taps: tap at least 4 times"},
		"too few":                 {"\n\nq\n", time.Second, exitFailed, "--tap: 2 taps"},
		"too fast":                {"\n\n\n\n\n", time.Millisecond, exitFailed, "tempo 60000: must lie from 10 to 1000"},
	} {
		t.Run(name, func(t *testing.T) {
			e := world(t)
			e.Stdin, e.Now = strings.NewReader(c.in), ticking(c.step)
			got := e.run(t, "retime", unit, "--tap", "--note", "1/4")
			require.Equal(t, c.code, got.code, got.talk)
			require.Contains(t, got.out+got.talk, c.says)
		})
	}
}

func TestTappedTempoInJSON(t *testing.T) {
	e := world(t)
	e.Stdin, e.Now = strings.NewReader("\n\n\n\n"), ticking(500*time.Millisecond)
	v := e.run(t, "retime", write(t, "unit.toml", helpUnit), "--tap", "--mode", "nearest", "--json").decode(t)
	require.InDelta(t, 120, v["bpm"], 1e-9)
	hasFields(t, v["tap"], "bpm", "beat_ms", "spread_ms", "intervals", "dropped")
}

// A hand on the clock of the test: taps at times of their own, one beat left out.
func TestAPauseEndsTheTapping(t *testing.T) {
	unit := write(t, "unit.toml", helpUnit)
	e := world(t)
	synctest.Test(t, func(t *testing.T) {
		in, hand := io.Pipe()
		e.Stdin, e.Now = in, time.Now
		began := time.Now()
		go func() {
			time.Sleep(20 * time.Second) // as long as it takes to begin
			for _, gap := range []time.Duration{0, 590, 610, 600, 1200, 605, 595} {
				time.Sleep(gap * time.Millisecond)
				_, _ = hand.Write([]byte("\n"))
			}
		}()
		got := e.run(t, "retime", unit, "--tap", "--note", "1/4")
		require.Equal(t, exitDone, got.code, got.talk)
		require.Contains(t, got.out, "tapped: 100.00 BPM, 600.0 ms a beat ± 7.9 ms; 5 intervals counted, 1 dropped") // √((100+100+0+25+25)/4) = 7.906
		require.Equal(t, 20*time.Second+4200*time.Millisecond+tapPause, time.Since(began))
		require.NoError(t, hand.Close()) // lets the reader go
	})
}

func TestTappingBreaksOff(t *testing.T) {
	unit := write(t, "unit.toml", helpUnit)
	e := world(t)
	e.Stdin = io.MultiReader(strings.NewReader("\n\n"), failing{})
	got := e.run(t, "retime", unit, "--tap", "--note", "1/4")
	require.Equal(t, exitFailed, got.code)
	require.Contains(t, got.talk, "--tap: the keyboard is gone")
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errors.New("the keyboard is gone") }

func TestKeysOfATerminal(t *testing.T) {
	for _, c := range []struct {
		name, keys string
		taps       int
		stopped    bool
	}{
		{"any keys, then q", "ab c1q", 5, false},
		{"Enter is a key", "\r\r\r\r\x04", 4, false},
		{"Ctrl-D", "aaaa\x04aaaa", 4, false},
		{"Escape", "\x1b", 0, false},
		{"letters of two bytes are one key", "üüüüq", 4, false},
		{"Ctrl-C is no tap", "aa\x03", 2, true},
		{"the end", "aaa", 3, false},
	} {
		var heard []tapKey
		readTapKeys(strings.NewReader(c.keys), func(k tapKey) bool {
			heard = append(heard, k)
			return !k.ends
		})
		require.Len(t, heard, c.taps+1, c.name)
		last := heard[c.taps]
		require.True(t, last.ends)
		require.Equal(t, c.stopped, last.err != nil, c.name)
	}
	var arrow []tapKey
	readTapKeys(io.MultiReader(strings.NewReader("\x1b[A"), strings.NewReader("q")), func(k tapKey) bool { // cursor up (ECMA-48)
		arrow = append(arrow, k)
		return !k.ends
	})
	require.Len(t, arrow, 2, "an arrow is one tap and no Escape")
}

func TestATerminalIsRawWhileTappedAndNoLonger(t *testing.T) {
	leader, terminal, err := pty.Open()
	if err != nil {
		t.Skipf("SKIP: no pseudo-terminal here: %v", err)
	}
	defer leader.Close()
	defer terminal.Close()
	before, err := term.GetState(int(terminal.Fd()))
	require.NoError(t, err)
	e := world(t)
	e.Stdin, e.Now = terminal, ticking(500*time.Millisecond)
	e.Args = []string{"retime", write(t, "unit.toml", helpUnit), "--tap", "--note", "1/4"}
	var out, talk bytes.Buffer
	e.Stdout, e.Stderr = &out, &talk
	_, err = leader.Write([]byte("aaaaaq"))
	require.NoError(t, err)
	require.Equal(t, exitDone, Run(t.Context(), e), talk.String())
	require.Contains(t, out.String(), "tapped: 120.00 BPM")
	require.Contains(t, talk.String(), "tap the beat on any key")
	after, err := term.GetState(int(terminal.Fd()))
	require.NoError(t, err)
	require.Equal(t, before, after)
}
