package exchange

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/transfer"
	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// aFollower is one of a five-line unit that has been told its first setting.
func aFollower(t testing.TB) (f *follower, at time.Duration) {
	t.Helper()
	d, err := profiles.Shipped("five-line")
	require.NoError(t, err)
	f, err = newFollower(d, 0)
	require.NoError(t, err)
	for range 60 {
		at += beatOf(300) / 24
		f.hear([]byte{midi.TimingClock}, at)
	}
	require.True(t, f.due())
	w, err := wantedOf(d, threeHeads(), quarter)(300)
	require.NoError(t, err)
	u, _, err := f.begin(w, at)
	require.NoError(t, err)
	f.done(u)
	return f, at
}

func beatOf(tempo preset.BPM) time.Duration {
	return time.Duration(60 / float64(tempo) * float64(time.Second))
}

// mostPerClock is 1 % of a core at 300 BPM: 24 clocks a beat are 120 a second, so
// 10 ms by 120.
const mostPerClock = 10 * time.Millisecond / 120

func TestAClockAllocatesNothing(t *testing.T) {
	f, at := aFollower(t)
	message := []byte{midi.TimingClock}
	require.Zero(t, testing.AllocsPerRun(1000, func() {
		at += beatOf(300) / 24
		f.hear(message, at)
		if f.due() {
			t.Error("a steady clock asks for nothing")
		}
	}))
}

// BenchmarkClock is what one clock costs, with the framing of its byte; the limit
// stands beside it.
func BenchmarkClock(b *testing.B) {
	f, at := aFollower(b)
	var framer midi.Framer
	hear := func(m midi.Frame) { f.hear(m.Bytes, at) }
	bytes := []byte{midi.TimingClock}
	b.ReportAllocs()
	for b.Loop() {
		at += beatOf(300) / 24
		framer.Feed(bytes, hear)
		if f.due() {
			b.Fatal("a steady clock asks for nothing")
		}
	}
	b.ReportMetric(float64(mostPerClock.Nanoseconds()), "limit-ns/op")
}

// BenchmarkUpdate is what working out one update costs: of these there are a few a
// second at the most.
func BenchmarkUpdate(b *testing.B) {
	f, _ := aFollower(b)
	tempo := preset.BPM(100)
	b.ReportAllocs()
	for b.Loop() {
		tempo = 240 - tempo
		s, _, err := f.times.within(tempo, 0)
		require.NoError(b, err)
		_, err = f.times.steps(f.held, s)
		require.NoError(b, err)
		f.held = s
	}
}

// TestADeviceThatFallsSilent in the middle of a ramp ends the following, and says
// what is not known.
func TestADeviceThatFallsSilent(t *testing.T) {
	// 63 messages are the identity request, the first setting and some updates.
	m := tempoMap{from: 100, to: 140, hold: 4, beats: 16}
	s := onStage(t, "five-line", emulator.Options{Faults: emulator.Faults{DieAfter: 63}}, followsThreeHeads, nil, func(ctx context.Context, s *stage) error {
		return m.play(ctx, s.clock, 30)
	})
	var silent *transfer.NoAnswerError
	require.ErrorAs(t, s.err, &silent)
	require.ErrorContains(t, s.err, "the device may hold some of the times before and some of the new ones")
	require.True(t, s.ended.Halfway)
	require.Greater(t, s.ended.Updates, 1)
}

// TestAClockThatIsUnplugged ends the following with an error; the device keeps
// what it has.
func TestAClockThatIsUnplugged(t *testing.T) {
	s := onStage(t, "five-line", emulator.Options{}, followsThreeHeads, nil, func(ctx context.Context, s *stage) error {
		if err := clocks(ctx, s, 120, 120, onTime); err != nil {
			return err
		}
		require.NoError(t, s.clock.Close())
		time.Sleep(time.Minute)
		return nil
	})
	require.ErrorIs(t, s.err, port.ErrGone)
	require.ErrorContains(t, s.err, "the clock: ")
	require.False(t, s.ended.Halfway, "the device has all that it was told")
	require.Len(t, s.updates, 1)
}

// TestWhatNeverBeginsToFollow leaves the device alone: another device, a loop that grows, a wish
// that cannot be worked out.
func TestWhatNeverBeginsToFollow(t *testing.T) {
	steady := func(ctx context.Context, s *stage) error { return clocks(ctx, s, 120, 240, onTime) }
	before := func(t *testing.T, s *stage, at int) {
		sound, err := s.unit.Sound(emulator.EditBuffer)
		require.NoError(t, err)
		first, err := s.unit.Sound(at)
		require.NoError(t, err)
		require.Equal(t, codesOf(t, first), codesOf(t, sound), "what sounds is what sounded at power-up")
	}
	t.Run("another device", func(t *testing.T) {
		s := onStage(t, "five-line", emulator.Options{Faults: emulator.Faults{WrongIdentity: true}}, followsThreeHeads, nil, steady)
		require.ErrorContains(t, s.err, "nothing was written")
		before(t, s, 0)
	})
	t.Run("a loop that grows", func(t *testing.T) {
		s := onStage(t, "tap-loop", emulator.Options{}, func(s *stage) {
			want := wantedOf(s.Device, threeHeads(), quarter)
			s.options.Wanted = func(tempo preset.BPM) (FollowWanted, error) {
				w, err := want(tempo)
				w.Setting.Codes[s.Device.Parameter("feedback")] = 127 // 1.10 (tap-loop.md)
				return w, err
			}
		}, nil, steady)
		require.ErrorIs(t, s.err, errHowls)
		require.ErrorContains(t, s.err, `at 120.0 BPM the loop on device "tap-loop" would have +`)
		before(t, s, 0)
	})
	t.Run("a wish that cannot be", func(t *testing.T) {
		cannot := errors.New("no")
		s := onStage(t, "five-line", emulator.Options{}, func(s *stage) {
			s.options.Wanted = func(preset.BPM) (FollowWanted, error) { return FollowWanted{}, cannot }
		}, nil, steady)
		require.ErrorIs(t, s.err, cannot)
		before(t, s, 0)
	})
}

func codesOf(t *testing.T, s emulator.Sound) (all []int) {
	t.Helper()
	for _, name := range s.Parameters() {
		code, err := s.Code(name)
		require.NoError(t, err)
		all = append(all, code)
	}
	return all
}

// TestTimesOutOfReachAreTold: on the five-line unit 1600 ms are the longest. A half
// note at 80 BPM has 1500 ms, at 70 it would have 1714: it is halved, told once, and
// comes back when the tempo does.
func TestTimesOutOfReachAreTold(t *testing.T) {
	s := onStage(t, "five-line", emulator.Options{}, func(s *stage) {
		s.options.Wanted = wantedOf(s.Device, followUnit(375, false, 0.5, 1), preset.Note{Denominator: 2})
	}, nil, func(ctx context.Context, s *stage) error {
		for _, tempo := range []float64{80, 70, 85} {
			if err := clocks(ctx, s, tempo, 24*8, onTime); err != nil {
				return err
			}
		}
		return nil
	})
	require.NoError(t, s.err)
	require.Len(t, s.said, 2, "%q", s.said)
	require.Regexp(t, `^at 7\d\.\d BPM the device's reach ends: its times are a half of what was asked$`, s.said[0])
	require.Regexp(t, `^at 8\d\.\d BPM the device reaches farther again: its times are as long as asked$`, s.said[1])
	last := s.updates[len(s.updates)-1]
	require.InEpsilon(t, 2*60_000/85.0, float64(last.Heads[1].Delay), 0.025, "within what can be noticed")
}

// TestTheClockIsPassedOn between and within other messages, to a device that
// follows it by itself, and to no other.
func TestTheClockIsPassedOn(t *testing.T) {
	near, far := port.Pipe("a device")
	thru := NewThru(near)
	ctx := t.Context()
	require.NoError(t, thru.Send(ctx, []byte{0xF0, 0x7D}))
	require.NoError(t, thru.Pass(ctx, []byte{midi.TimingClock}))
	require.NoError(t, thru.Send(ctx, []byte{0x01, 0xF7}))
	got, err := far.Receive(ctx)
	require.NoError(t, err)
	require.Equal(t, []byte{0xF0, 0x7D, 0xF8, 0x01, 0xF7}, got)
	require.NoError(t, near.Close())
	require.ErrorIs(t, thru.Pass(ctx, []byte{midi.TimingClock}), port.ErrClosed)

	for name, follows := range map[string]bool{"twin": true, "five-line": false, "tap-loop": false, "open-parameter": false} {
		d, err := profiles.Shipped(name)
		require.NoError(t, err)
		require.Equal(t, follows, followsClock(d), name)
	}
}
