package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/profiles/emulator"
)

func TestGosWordsForAnEndDoNotReachAnybody(t *testing.T) {
	interrupted, stop := context.WithCancel(t.Context())
	stop()
	step := fmt.Errorf(`writing slot 5: step "write slot 5": %w; the slot holds what it held before`, context.Canceled)
	for _, c := range []struct {
		ctx  context.Context
		err  error
		want string
	}{
		{interrupted, context.Canceled, "interrupted"},
		{interrupted, step, `interrupted: writing slot 5: step "write slot 5"; the slot holds what it held before`},
		{interrupted, fmt.Errorf("%w; and %w", step, context.Canceled), `interrupted: writing slot 5: step "write slot 5"; the slot holds what it held before; and interrupted`},
		{interrupted, errors.New("no such slot"), "no such slot"}, // Ctrl-C came too late for it
		{t.Context(), fmt.Errorf("reading: %w", context.Canceled), "reading: interrupted"},
		{t.Context(), fmt.Errorf("reading: %w; try again", context.DeadlineExceeded), "reading: not done in time; try again"},
	} {
		require.Equal(t, c.want, errorWords(c.ctx, c.err))
	}
}

// TestWhoInterruptsAPushIsToldAtOnceWhatIsStillDone presses Ctrl-C at each message in
// turn. Who waits without a word would press it again, which ends the program with
// the slot half written.
func TestWhoInterruptsAPushIsToldAtOnceWhatIsStillDone(t *testing.T) {
	const warning = "warning: interrupted: slot 5 is brought to a known state first"
	told := 0
	for sent := 1; sent <= 8; sent++ {
		onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
			before := b.slot(t, 5)
			ctx, stop := context.WithCancel(t.Context())
			defer stop()
			open, left := b.Ports["bench"], sent
			b.Ports["bench"] = func(ctx context.Context, name string) (port.Port, error) {
				p, err := open(ctx, name)
				return stopping{p, &left, stop}, err
			}
			var talk bytes.Buffer
			e := b.Env
			e.Args, e.Stderr = []string{"push", write(t, "fen.toml", someUnit), "--slot", "5", "--device", "five-line", "--port", "bench:device", "-q"}, &talk
			code := Run(ctx, e)
			require.NotContains(t, talk.String(), "context ", "after message %d", sent)
			if code == exitDone {
				return
			}
			require.Equal(t, exitFailed, code)
			lines := strings.Split(strings.TrimSuffix(talk.String(), "\n"), "\n")
			require.Regexp(t, "^echowright: interrupted: ", lines[len(lines)-1])
			if strings.Contains(talk.String(), "; the slot holds ") {
				told++
				require.Regexp(t, "^"+warning+".*; Ctrl-C again ends at once$", lines[len(lines)-2], "also where talk is not wanted")
			} else {
				require.NotContains(t, talk.String(), warning, "nothing has been written")
				require.Equal(t, before, b.slot(t, 5))
			}
		})
	}
	require.Positive(t, told)
}
