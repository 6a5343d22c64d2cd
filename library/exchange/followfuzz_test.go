package exchange

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/preset"
)

// FuzzAnyClock: whatever comes as a clock and whenever, what is sent is a setting
// that the device takes, for a tempo that there is, and is different from the last.
// Each byte of the input is a message and how long after the last it comes: the low
// five bits in steps of 3 ms, the high ones choose among clock and the rest.
func FuzzAnyClock(f *testing.F) {
	f.Add(bytes.Repeat([]byte{7}, 200))                                            // 21 ms: 119 BPM
	f.Add(append(bytes.Repeat([]byte{9}, 100), bytes.Repeat([]byte{5}, 100)...))   // 27 ms, then 15
	f.Add(append(bytes.Repeat([]byte{7, 0}, 80), bytes.Repeat([]byte{31}, 60)...)) // doubled, then slow
	f.Add(append(bytes.Repeat([]byte{7}, 60), append([]byte{0xE1, 0xA2, 0xC3}, bytes.Repeat([]byte{6}, 90)...)...))
	d := bandDevice(f, "[limits]\nlongest_ms = 1500\nascending = true", timesApart)
	base := set(f, d, map[string]int{"one-time": 300, "two-time": 600, "three-time": 900, "four-time": 1200, "one-level": 90, "two-level": 90})
	f.Fuzz(func(t *testing.T, input []byte) {
		core, err := newFollower(d, 1)
		require.NoError(t, err)
		others := [][]byte{{midi.Start}, {midi.Stop}, {midi.Continue}, {midi.SongPointer, 0x7F, 0x7F}, {midi.SongPointer}, {}, {0xF0, 0x7D}}
		at := time.Duration(0)
		for _, b := range input {
			at += time.Duration(b&0x1F) * 3 * time.Millisecond
			message := []byte{midi.TimingClock}
			if kind := int(b >> 5); kind > 0 {
				message = others[kind-1]
			}
			core.hear(message, at)
			_ = core.told(at)
			if !core.due() {
				continue
			}
			var u FollowUpdate
			if tempo, _ := core.settled(); core.times == nil {
				u, _, err = core.begin(FollowWanted{Tempo: tempo, Setting: base}, at)
			} else {
				before := core.held
				steps := 0
				u, steps, err = nextOf(core, at)
				if steps == 0 {
					require.NoError(t, err)
					continue
				}
				require.NotEqual(t, before.Codes, u.sets.Codes)
			}
			require.NoError(t, err)
			require.NoError(t, d.Check(u.sets))
			require.NoError(t, preset.CheckTempo(u.Tempo))
			core.done(u)
		}
	})
}

func nextOf(f *follower, at time.Duration) (FollowUpdate, int, error) {
	u, steps, err := f.next(at)
	return u, len(steps), err
}
