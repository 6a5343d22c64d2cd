package cli

import (
	"context"
	"fmt"
	"time"

	"echowright/cmd/internal/ui"
	"echowright/preset"
)

// tapPause ends the tapping: a beat of 20 BPM, half as fast as a metronome's
// slowest (40 beats a minute).
const tapPause = 3 * time.Second

// tapped is the tempo that somebody taps: keys on a terminal, lines elsewhere.
// Times are those of the Env's clock.
func (c *call) tapped(ctx context.Context) (preset.Tapped, error) {
	if ui.Asks(c.Stdin) {
		c.say("tap the beat on any key; q, Esc, Ctrl-D or a pause of %v ends it", tapPause)
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	keys, restore := tapKeys(ctx, c.Stdin, c.Now)
	at, err := c.hearTaps(ctx, keys)
	restore()
	if c.talk.Terminal() {
		fmt.Fprintln(c.talk)
	}
	if err != nil {
		return preset.Tapped{}, fmt.Errorf("--tap: %w", err)
	}
	t, err := preset.TapTempo(at)
	if err != nil {
		return t, fmt.Errorf("--tap: %w", err)
	}
	return t, nil
}

// hearTaps gathers the times of taps, from the first, until one of the ends.
func (c *call) hearTaps(ctx context.Context, keys <-chan tapKey) ([]time.Duration, error) {
	var at []time.Duration
	var first time.Time
	pause := time.NewTimer(tapPause)
	defer pause.Stop()
	for {
		late := pause.C
		if len(at) == 0 {
			late = nil // as long as it takes to begin
		}
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-late:
			return at, nil
		case k := <-keys:
			if k.ends {
				return at, k.err
			}
			if len(at) == 0 {
				first = k.at
			}
			at = append(at, k.at.Sub(first))
			pause.Reset(tapPause)
			c.showTaps(at)
		}
	}
}

// showTaps keeps one line of a terminal up to date; the terminal is raw meanwhile,
// so the line begins with a carriage return and has no end.
func (c *call) showTaps(at []time.Duration) {
	if !c.talk.Terminal() {
		return
	}
	words := ui.Count(len(at), "tap", "taps")
	if t, err := preset.TapTempo(at); err == nil {
		words += fmt.Sprintf(": %s BPM", ui.Fixed(float64(t.Tempo), 1))
	}
	fmt.Fprintf(c.talk, "\r%-30s", words)
}
