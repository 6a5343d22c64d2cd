package transfer

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

const hold = "F0 7D 7D %02X F7"

// A dump's receiver may say WAIT, and be silent as long as it likes (MIDI 1.0
// Detailed Specification 4.2.1, page 44).
func TestADeviceThatAsksToHoldOn(t *testing.T) {
	for _, tc := range []struct {
		name   string
		script func(int, byte) []say
		took   time.Duration
		silent bool
		fails  string
	}{
		{name: "the answer follows long after the time-out", script: inOrder([]say{{after: 5 * ms, hex: hold}, {after: 900 * ms, hex: done}}), took: 900 * ms},
		{name: "it may ask again", script: inOrder([]say{{after: 5 * ms, hex: hold}, {after: 4 * time.Second, hex: hold}, {after: 8 * time.Second, hex: done}}), took: 8 * time.Second},
		{name: "nothing follows", script: inOrder([]say{{after: 5 * ms, hex: hold}}), silent: true,
			fails: `no answer over the port: the device asked to hold on, and has said nothing more for 5s`},
		{name: "it asks for ever", script: forEver(4*time.Second, hold), fails: "asks to hold on again and again, and has not decided after 1m0s"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l, d := talk(t, Options{Retries: -1}, tc.script)
				s := step(0x10)
				s.Answers = append(s.Answers, midi.Answer{Match: pattern("F0 7D 7D 10 F7"), Means: midi.Hold})
				s.Silence = midi.Done // which is not meant by a device that asked to hold on
				r, err := l.Run(t.Context(), []midi.Step{s})
				if tc.fails != "" {
					require.ErrorContains(t, err, tc.fails)
					var silent *NoAnswerError
					var gaveUp *GaveUpError
					require.Equal(t, tc.silent, errors.As(err, &silent))
					require.Equal(t, !tc.silent, errors.As(err, &gaveUp))
					require.Len(t, d.heard(), 1, "it is not sent again")
					require.LessOrEqual(t, r.Elapsed, time.Minute)
					return
				}
				require.NoError(t, err)
				require.Equal(t, tc.took, r.Elapsed)
				require.Len(t, d.heard(), 1, "it is not sent again meanwhile")
			})
		})
	}
}

// forEver answers with the same again and again, for two minutes.
func forEver(every time.Duration, hex string) func(int, byte) []say {
	var all []say
	for after := 5 * ms; after < 2*time.Minute; after += every {
		all = append(all, say{after: after, hex: hex})
	}
	return always(all...)
}

func TestWhatSilenceStandsFor(t *testing.T) {
	for _, tc := range []struct {
		name    string
		silence midi.Meaning
		tries   int
		fails   bool
	}{
		{"nothing said: sent again", 0, 3, true},
		{"damaged: sent again", midi.Damaged, 3, true},
		{"done: it goes on", midi.Done, 1, false},
		{"refused: not sent again", midi.Refused, 1, true},
	} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l, d := talk(t, Options{}, always())
				s := step(0x10)
				s.Silence = tc.silence
				r, err := l.Run(t.Context(), []midi.Step{s})
				require.Len(t, d.heard(), tc.tries)
				if tc.fails {
					var silent *NoAnswerError
					require.ErrorAs(t, err, &silent)
					return
				}
				require.NoError(t, err)
				require.Equal(t, midi.Done, r.Replies[0].Means)
				require.Nil(t, r.Replies[0].Message)
			})
		})
	}
}

// Three control changes of 3 bytes (960 µs) in one step, under running status
// two of 2 bytes (640 µs) more: the silence is kept after each.
func TestTheSilenceIsKeptInsideAStep(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := &stopwatch{began: time.Now(), closed: make(chan struct{})}
		l := Open(p, Options{})
		defer l.Close()
		s := midi.Step{What: "set a parameter", Send: unhex("B0 63 01 B0 62 00 B0 06 07 26 68 65 7F"), Gap: 2 * ms}
		r, err := l.Run(t.Context(), []midi.Step{s})
		require.NoError(t, err)
		require.Equal(t, []int{3, 3, 3, 2, 2}, p.sizes)
		require.Equal(t, []time.Duration{0, 2960 * us, 5920 * us, 8880 * us, 11520 * us}, p.when)
		require.Equal(t, 5, r.Messages)
		require.Equal(t, 13, r.Bytes)
	})
}

// The second message of a conversation answers the first, and the device has gone
// on meanwhile: what it said must not be put aside.
func TestAStepThatFollowsHearsWhatCameBeforeIt(t *testing.T) {
	for _, follows := range []bool{true, false} {
		synctest.Test(t, func(t *testing.T) {
			l, _ := talk(t, Options{Retries: -1}, inOrder([]say{{after: 5 * ms, hex: data}, {after: 6 * ms, hex: "F0 7D 12 11 06 F7"}}))
			_, err := l.Run(t.Context(), []midi.Step{step(0x10)})
			require.NoError(t, err)
			time.Sleep(50 * ms)
			s := step(0x11)
			s.Follows = follows
			r, err := l.Run(t.Context(), []midi.Step{s})
			if !follows {
				require.Error(t, err)
				return
			}
			require.NoError(t, err)
			require.Equal(t, "F0 7D 12 11 06 F7", midi.Hex(r.Replies[0].Message))
		})
	}
}
