package transfer

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// Whatever a device says, a run ends, in the time that its time-outs, retries and
// waits allow, and with a reply or an error for the step.
func FuzzRun(f *testing.F) {
	for _, seed := range []string{
		"F0 7D 7F 10 F7", "F0 7D 7E 10 06 F7 F0 7D 7F 10 F7", "F0 7D 7E 10 01 F7", "F0 7D 7E 10 04 F7", "F0 7D F8 90 3C", "00",
	} {
		f.Add(unhex(seed), uint8(5), uint8(2))
	}
	f.Fuzz(func(t *testing.T, said []byte, every, pieces uint8) {
		synctest.Test(t, func(t *testing.T) {
			l, _ := talk(t, Options{BusyTotal: time.Second}, func(n int, _ byte) []say {
				if n%(int(pieces)+1) != 0 {
					return nil
				}
				return []say{{after: time.Duration(every) * ms, hex: midi.Hex(said), slow: every%2 == 0}}
			})
			began := time.Now()
			steps := []midi.Step{step(0x10), step(0x10), step(0x11)}
			r, err := l.Run(t.Context(), steps)
			require.Equal(t, err == nil, len(r.Replies) == len(steps))
			// Each step: three tries and their answers owed, a busy second, and the
			// longest that a message without an end is waited for, each time.
			bound := time.Duration(len(steps)) * (time.Second + 8*(100*ms+longestMessage))
			require.Less(t, time.Since(began), bound)
		})
	})
}
