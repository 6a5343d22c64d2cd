package transfer

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
)

const ms = time.Millisecond

// Each fault of a line or a device, and what becomes of the step. The times are
// exact, because the bubble's clock moves only when all wait: a message of four
// bytes takes 1.28 ms on the wire, and its time-out counts from there.
func TestOneStep(t *testing.T) {
	at := func(after time.Duration, hex string) []say { return []say{{after: after, hex: hex}} }
	for _, tc := range []struct {
		name    string
		script  func(int, byte) []say
		options Options
		tries   int    // how often the device heard it
		answer  string // "" if the step fails
		took    time.Duration
		fails   string
	}{
		{name: "acknowledged", script: always(say{after: 5 * ms, hex: done}),
			tries: 1, answer: "F0 7D 7F 10 F7", took: 5 * ms},
		{name: "data that were asked for", script: always(say{after: 5 * ms, hex: data}),
			tries: 1, answer: "F0 7D 12 10 05 F7", took: 5 * ms},
		{name: "an answer before the message has passed the wire ends the run only then", script: always(say{hex: done}),
			tries: 1, answer: "F0 7D 7F 10 F7", took: 1280 * time.Microsecond},
		{name: "the first answer is lost", script: inOrder(nil, at(5*ms, done)),
			tries: 2, answer: "F0 7D 7F 10 F7", took: 1280*time.Microsecond + 100*ms + 5*ms},
		{name: "all answers are lost", script: always(), tries: 3, took: 3 * (1280*time.Microsecond + 100*ms),
			fails: `step "command 10": no answer over raw:/dev/x, sent 3 times with 100ms to answer; nothing came at all: is the device on, connected both ways, and set to this channel or unit number?`},
		{name: "no retries are wanted", script: always(), options: Options{Retries: -1}, tries: 1, took: 1280*time.Microsecond + 100*ms,
			fails: `sent once with 100ms to answer`},
		{name: "the answer is late and comes to the second try", script: inOrder(at(150*ms, done), at(200*ms, done)),
			tries: 2, answer: "F0 7D 7F 10 F7", took: 150 * ms},
		{name: "damaged on the way, sent again", script: inOrder(at(5*ms, damaged), at(5*ms, done)),
			tries: 2, answer: "F0 7D 7F 10 F7", took: 5280*time.Microsecond + 5*ms},
		{name: "damaged each time", script: always(say{after: 10 * ms, hex: damaged}), tries: 3, took: 30 * ms,
			fails: `step "command 10": sent 3 times, it never arrived whole (checksum); look at the cable, or at another program on the same port`},
		{name: "busy, then done", script: inOrder(at(5*ms, busy), at(5*ms, busy), at(5*ms, done)),
			tries: 3, answer: "F0 7D 7F 10 F7", took: 2*55*ms + 5*ms},
		{name: "busy for longer than anybody waits", script: always(say{after: 10 * ms, hex: busy}), options: Options{BusyTotal: 200 * ms},
			tries: 4, took: 3*60*ms + 10*ms,
			fails: `step "command 10": the device is still busy (busy) after 190ms, sent 4 times; leave it alone for a while, then try again`},
		{name: "busy does not use up the retries", script: always(say{after: 10 * ms, hex: busy}), options: Options{BusyTotal: 200 * ms, Retries: -1},
			tries: 4, took: 190 * ms, fails: "still busy"},
		// A memory write takes 130 ms; the second try meets it under way.
		{name: "busy with the first try of this very step", script: inOrder(at(130*ms, done), at(5*ms, busy)),
			tries: 2, answer: "F0 7D 7F 10 F7", took: 130 * ms},
		{name: "busy with something else, whose acknowledge is not ours", script: inOrder([]say{{after: 5 * ms, hex: busy}, {after: 20 * ms, hex: done}}, at(5*ms, data)),
			tries: 2, answer: "F0 7D 12 10 05 F7", took: 60 * ms},
		{name: "refused", script: always(say{after: 5 * ms, hex: routing}), tries: 1, took: 5 * ms,
			fails: `step "command 10": the device refuses it: routing`},
		{name: "doubled answer", script: always(say{after: 5 * ms, hex: done}, say{after: 5 * ms, hex: done}),
			tries: 1, answer: "F0 7D 7F 10 F7", took: 5 * ms},
		{name: "a byte at a time", script: always(say{after: 5 * ms, hex: done, slow: true}),
			tries: 1, answer: "F0 7D 7F 10 F7", took: 9 * ms},
		{name: "an answer that begins before the time-out and ends after it", script: always(say{after: 99 * ms, hex: done, slow: true}),
			tries: 1, answer: "F0 7D 7F 10 F7", took: 103 * ms},
		{name: "an answer that stops in the middle", script: inOrder(at(50*ms, "F0 7D 7F"), at(5*ms, done)),
			tries: 2, answer: "F0 7D 7F 10 F7", took: 155 * ms},
		{name: "real-time bytes inside the answer", script: always(say{after: 5 * ms, hex: "F8 F0 FE 7D F8 7F 10 FE F7 F8"}),
			tries: 1, answer: "F0 7D 7F 10 F7", took: 5 * ms},
		{name: "other people's messages before the answer", script: always(say{after: 5 * ms, hex: "90 3C 40 3C 00 F0 7D 7F 11 F7 F0 7D 7F 10 F7 B0 07 64"}),
			tries: 1, answer: "F0 7D 7F 10 F7", took: 5 * ms},
		{name: "rubbish before the answer", script: always(say{after: 5 * ms, hex: "00 FF 55 F4 F0 7D 12 10 F0 7D 7F 10 F7"}),
			tries: 1, answer: "F0 7D 7F 10 F7", took: 5 * ms},
		{name: "nothing but rubbish", script: inOrder(at(5*ms, "01 02 03 F0 7D F0 7D 7F 11 F7 F8")), options: Options{Retries: -1},
			tries: 1, took: 1280*time.Microsecond + 100*ms,
			fails: "what came was no answer: 11 bytes in 1 message, 1 real-time message, 1 broken SysEx, 3 stray bytes, the first F0 7D 7F 11 F7: is it the device that is meant, and its unit number?"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				tc.options.Name = "raw:/dev/x"
				l, d := talk(t, tc.options, tc.script)
				r, err := l.Run(t.Context(), []midi.Step{step(0x10)})
				require.Len(t, d.heard(), tc.tries)
				require.Equal(t, tc.took, r.Elapsed)
				require.Equal(t, tc.tries, r.Messages)
				require.Equal(t, 4*tc.tries, r.Bytes)
				if tc.fails != "" {
					require.ErrorContains(t, err, tc.fails)
					require.Empty(t, r.Replies)
					return
				}
				require.NoError(t, err)
				require.Len(t, r.Replies, 1)
				require.Equal(t, tc.answer, midi.Hex(r.Replies[0].Message))
				require.Equal(t, tc.tries, r.Replies[0].Tries)
			})
		})
	}
}

func TestErrorsHaveTypes(t *testing.T) {
	for _, tc := range []struct {
		script func(int, byte) []say
		check  func(*testing.T, error)
	}{
		{always(say{hex: routing}), func(t *testing.T, err error) {
			var e *RefusedError
			require.ErrorAs(t, err, &e)
			require.Equal(t, "command 10", e.What)
			require.Equal(t, "routing", e.Says)
			require.Equal(t, "F0 7D 7E 10 04 F7", midi.Hex(e.Answer))
		}},
		{always(), func(t *testing.T, err error) {
			var e *NoAnswerError
			require.ErrorAs(t, err, &e)
			require.Equal(t, 3, e.Tries)
			require.Equal(t, 100*ms, e.Wait)
			require.Zero(t, e.Heard)
		}},
		{always(say{hex: damaged}), func(t *testing.T, err error) {
			var e *GaveUpError
			require.ErrorAs(t, err, &e)
			require.Equal(t, midi.Damaged, e.Means)
		}},
	} {
		synctest.Test(t, func(t *testing.T) {
			l, _ := talk(t, Options{}, tc.script)
			_, err := l.Run(t.Context(), []midi.Step{step(0x10)})
			tc.check(t, err)
		})
	}
}

// Steps that follow each other: none may take another's answer for its own. What
// belongs to the second step is data here, what belongs to the first is not.
func TestAnswersOfEarlierSteps(t *testing.T) {
	for _, tc := range []struct {
		name   string
		script func(int, byte) []say
		heard  int
		tries  []int
		took   time.Duration
	}{
		// The silence ends at 1.28 + 4 ms.
		{"a doubled answer while the device wants silence",
			inOrder([]say{{after: 2 * ms, hex: done}, {after: 3 * ms, hex: done}}, []say{{after: 50 * ms, hex: data}}), 2, []int{1, 1}, 55280 * us},
		// Its five bytes come from 3 to 7 ms.
		{"a doubled answer that is still on the wire",
			inOrder([]say{{after: 2 * ms, hex: done}, {after: 3 * ms, hex: done, slow: true}}, []say{{after: 50 * ms, hex: data}}), 2, []int{1, 1}, 57 * ms},
		// The rest of one and a whole other come in one piece, when the first is waited
		// for: the second step goes out at 20 ms.
		{"a doubled answer on the wire, with another behind it",
			inOrder([]say{{after: 2 * ms, hex: done}, {after: 3 * ms, hex: "F0 7D 7F"}, {after: 20 * ms, hex: "10 F7 F0 7D 7F 10 F7"}}, []say{{after: 50 * ms, hex: data}}),
			2, []int{1, 1}, 70 * ms},
		// The first step is sent twice and acknowledged twice, at 130 and at 191.28
		// ms. The second step's message goes then, the third in all; it is lost at first.
		{"an answer to the second try, when the first was answered late",
			inOrder([]say{{after: 130 * ms, hex: done}}, []say{{after: 90 * ms, hex: done}}, nil, []say{{after: 5 * ms, hex: data}}), 4, []int{2, 2}, 191280*us + 101280*us + 5*ms},
		// It was sent again at 101.28 ms and can be answered until 202.56.
		{"an answer that is owed never comes",
			inOrder([]say{{after: 130 * ms, hex: done}}, nil, []say{{after: 5 * ms, hex: data}}), 3, []int{2, 1}, 202560*us + 5*ms},
	} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l, d := talk(t, Options{}, tc.script)
				r, err := l.Run(t.Context(), []midi.Step{step(0x10), step(0x10)})
				require.NoError(t, err)
				require.Len(t, d.heard(), tc.heard)
				require.Equal(t, tc.took, r.Elapsed)
				require.Equal(t, tc.tries, []int{r.Replies[0].Tries, r.Replies[1].Tries})
				require.Equal(t, "F0 7D 7F 10 F7", midi.Hex(r.Replies[0].Message))
				require.Equal(t, "F0 7D 12 10 05 F7", midi.Hex(r.Replies[1].Message))
			})
		})
	}
}

func TestWhatCameBetweenRunsIsPutAside(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, d := talk(t, Options{Retries: -1}, inOrder([]say{{after: 300 * ms, hex: done}}, []say{{after: 50 * ms, hex: data}}))
		_, err := l.Run(t.Context(), []midi.Step{step(0x10)})
		require.Error(t, err)
		time.Sleep(time.Second)
		r, err := l.Run(t.Context(), []midi.Step{step(0x10)})
		require.NoError(t, err)
		require.Equal(t, "F0 7D 12 10 05 F7", midi.Hex(r.Replies[0].Message), "and not the late answer")
		require.Len(t, d.heard(), 2)
	})
}

func TestTheRunEndsWhereItFails(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, d := talk(t, Options{}, inOrder([]say{{hex: done}}, []say{{hex: routing}}, []say{{hex: done}}))
		r, err := l.Run(t.Context(), []midi.Step{step(0x10), step(0x11), step(0x12)})
		var refused *RefusedError
		require.ErrorAs(t, err, &refused)
		require.Equal(t, "command 11", refused.What)
		require.Len(t, r.Replies, 1, "steps[1] was the one under way")
		require.Equal(t, []string{"F0 7D 10 F7", "F0 7D 11 F7"}, d.heard())
	})
}

func TestNothingIsSentIfAStepIsImpossible(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, d := talk(t, Options{}, always(say{hex: done}))
		_, err := l.Run(t.Context(), []midi.Step{step(0x10), {What: "empty"}})
		require.EqualError(t, err, `step "empty": it sends nothing`)
		synctest.Wait()
		require.Empty(t, d.heard())
	})
}

func TestStepsWithoutAnswers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, d := talk(t, Options{}, always())
		quiet := midi.Step{What: "delay 1 = 250 ms", Send: unhex("B0 63 01 62 08 06 07 26 68")}
		r, err := l.Run(t.Context(), []midi.Step{quiet, quiet})
		require.NoError(t, err)
		require.Equal(t, 8, r.Messages, "four control changes each, by running status")
		require.Equal(t, 18, r.Bytes)
		require.Equal(t, 18*320*time.Microsecond, r.Elapsed)
		require.Equal(t, []int{1, 1}, []int{r.Replies[0].Tries, r.Replies[1].Tries})
		require.Nil(t, r.Replies[0].Message)
		synctest.Wait()
		require.Len(t, d.heard(), 8)
	})
}

func TestThePortGoesAway(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, d := talk(t, Options{}, always())
		go func() {
			time.Sleep(50 * ms)
			_ = d.Close()
		}()
		r, err := l.Run(t.Context(), []midi.Step{step(0x10)})
		require.ErrorIs(t, err, port.ErrGone)
		require.ErrorContains(t, err, `step "command 10": port cable: receiving: the other side went away`)
		require.Equal(t, 50*ms, r.Elapsed, "nobody waits for the time-out")
		_, err = l.Run(t.Context(), []midi.Step{step(0x11)})
		require.ErrorIs(t, err, port.ErrGone)
		require.ErrorContains(t, err, "sending: 0 of 4 bytes went")
	})
}

func TestTheContextEnds(t *testing.T) {
	for _, tc := range []struct {
		name  string
		after time.Duration
		send  int // bytes between F0 and F7
		took  time.Duration
		heard int
	}{
		{"before anything is sent", 0, 2, 0, 0},
		{"while the answer is waited for", 50 * ms, 2, 50 * ms, 1},
		// 402 bytes go in pieces of 128; the last begins 3·40.96 ms after the first.
		{"in the middle of a message, which is finished", 50 * ms, 400, 3 * 128 * 320 * time.Microsecond, 1},
		// 16386 bytes would take 5.2 s: the time of grace is over first.
		{"in the middle of a message that is too long to finish", 50 * ms, 16384, 550 * ms, 0},
	} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l, d := talk(t, Options{}, always())
				s := step(0x10)
				s.Send = append(append(unhex("F0"), make([]byte, tc.send)...), 0xF7)
				ctx, cancel := context.WithCancel(t.Context())
				if tc.after == 0 {
					cancel()
				}
				time.AfterFunc(tc.after, cancel)
				r, err := l.Run(ctx, []midi.Step{s, s})
				require.ErrorIs(t, err, context.Canceled)
				require.ErrorContains(t, err, `step "command 10"`)
				require.Equal(t, tc.took, r.Elapsed)
				require.Empty(t, r.Replies)
				synctest.Wait()
				require.Len(t, d.heard(), tc.heard)
			})
		})
	}
}

func TestAPortThatAnswersNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := Open(mute{}, Options{})
		defer l.Close()
		s := step(0x10)
		_, err := l.Run(t.Context(), []midi.Step{s})
		require.ErrorIs(t, err, errMute)
		s.Answers = nil
		_, err = l.Run(t.Context(), []midi.Step{s})
		require.NoError(t, err, "who expects no answer needs none")
	})
}

var errMute = errors.New("a file answers nothing")

type mute struct{}

func (mute) Send(context.Context, []byte) error      { return nil }
func (mute) Receive(context.Context) ([]byte, error) { return nil, errMute }
func (mute) Close() error                            { return nil }
