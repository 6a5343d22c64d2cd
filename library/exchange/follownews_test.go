package exchange

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/songclock"
	"echowright/preset"
)

// What a clock that has stopped leaves behind is what the device was told last. A
// tempo that moved by less than can be heard since was not told.
func TestWhatIsSaidOfAClockThatStops(t *testing.T) {
	for _, c := range []struct {
		name        string
		clock, held preset.BPM
		words       string
	}{
		{"a little off what was told", 120.4, 119.9, "the clock has stopped: the device keeps the times of 119.9 BPM"},
		{"nothing was told yet", 120, 0, "the clock has stopped before anything was set"},
		{"not known yet", 0, 0, "the clock has stopped before its tempo was known"},
	} {
		var n news
		n.hear([]byte{midi.TimingClock})
		state := songclock.State{Tempo: c.clock}
		require.Empty(t, n.since(state, c.held, false, time.Second), c.name)
		require.Equal(t, []string{c.words}, n.since(state, c.held, true, 3*time.Second), c.name)
		require.Empty(t, n.since(state, c.held, true, 4*time.Second), "%s: once", c.name)
		require.Equal(t, []string{"the clock is back"}, n.since(state, c.held, false, 5*time.Second), c.name)
	}
}
