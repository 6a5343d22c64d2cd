package exchange

import (
	"context"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// quarter is the note that the last head of the test's unit falls on.
var quarter = preset.Note{Denominator: 4}

// threeHeads are a third, two thirds and all of a beat.
func threeHeads() preset.Unit { return followUnit(375, true, 1./3, 2./3, 1) }

// following wants three heads from the device, the last of them on a quarter note.
func followsThreeHeads(s *stage) { s.options.Wanted = wantedOf(s.Device, threeHeads(), quarter) }

// clocks sends n clocks at a tempo, each at its own time as late as late says.
func clocks(ctx context.Context, s *stage, tempo float64, n int, late func() time.Duration) error {
	began := time.Now()
	for i := range n {
		due := time.Duration(float64(i+1) * 60 / tempo / 24 * float64(time.Second))
		if err := tick(ctx, s.clock, began.Add(due+late())); err != nil {
			return err
		}
	}
	return nil
}

func onTime() time.Duration { return 0 }

// gaussian is jitter of 2 ms standard deviation, cut at three of them; nothing
// overtakes, since what is late delays what comes after it.
func gaussian(r *rand.Rand) func() time.Duration {
	return func() time.Duration {
		return time.Duration(max(-3, min(3, r.NormFloat64())) * 2 * float64(time.Millisecond))
	}
}

// TestAJitteringClockSendsNothing: a minute at 120 BPM with 2 ms of jitter on every
// clock. After the first setting nothing is sent, since nothing would be heard.
func TestAJitteringClockSendsNothing(t *testing.T) {
	for seed := range uint64(5) {
		s := onStage(t, "five-line", emulator.Options{}, followsThreeHeads, nil, func(ctx context.Context, s *stage) error {
			return clocks(ctx, s, 120, 24*120, gaussian(rand.New(rand.NewPCG(seed, 6))))
		})
		require.NoError(t, s.err)
		require.Len(t, s.updates, 1)
		// A straight line through 48 clocks with jitter of 2 ms knows their interval,
		// 20.8 ms, to √(12·2²/48³) = 0.021 ms or 0.1 %; four times that and it is off.
		require.InEpsilon(t, 120, float64(s.updates[0].Tempo), 0.004)
		require.InEpsilon(t, 120, float64(s.ended.Tempo), 0.001, "steady to 0.1 %%, as asked")
	}
}

// TestWhatClocksDo: nothing of this is a tempo, so after the first setting nothing
// is sent; what happened is told, once.
func TestWhatClocksDo(t *testing.T) {
	send := func(ctx context.Context, s *stage, messages ...byte) error { return s.clock.Send(ctx, messages) }
	steady := func(ctx context.Context, s *stage, beats int) error { return clocks(ctx, s, 120, 24*beats, onTime) }
	for _, c := range []struct {
		name string
		play func(ctx context.Context, s *stage) error
		said []string // beginnings
	}{
		{"a steady one", func(ctx context.Context, s *stage) error { return steady(ctx, s, 16) }, nil},
		{"every fifth is lost", func(ctx context.Context, s *stage) error {
			for range 20 {
				if err := clocks(ctx, s, 120, 16, onTime); err != nil {
					return err
				}
				time.Sleep(4 * 60 * time.Second / 120 / 24)
			}
			return nil
		}, []string{"the clock is uneven"}},
		{"from the fifth beat on each comes twice", func(ctx context.Context, s *stage) error {
			for i := range 24 * 16 {
				time.Sleep(60 * time.Second / 120 / 24)
				m := []byte{midi.TimingClock, midi.TimingClock}
				if err := send(ctx, s, m[:1+min(1, i/96)]...); err != nil {
					return err
				}
			}
			return nil
		}, []string{"the clock is uneven"}},
		{"in heaps of six", func(ctx context.Context, s *stage) error {
			if err := steady(ctx, s, 8); err != nil {
				return err
			}
			for range 8 {
				time.Sleep(6 * 60 * time.Second / 120 / 24)
				if err := send(ctx, s, 0xF8, 0xF8, 0xF8, 0xF8, 0xF8, 0xF8); err != nil {
					return err
				}
			}
			return steady(ctx, s, 8)
		}, []string{"the clock is uneven"}},
		{"it stops and comes back", func(ctx context.Context, s *stage) error {
			if err := steady(ctx, s, 6); err != nil {
				return err
			}
			time.Sleep(3 * time.Second)
			return steady(ctx, s, 6)
		}, []string{"the clock has stopped: the device keeps the times of 120.0 BPM", "the clock is back"}},
		{"song position, start, stop and continue", func(ctx context.Context, s *stage) error {
			for range 3 {
				for _, m := range [][]byte{{midi.Stop}, {midi.SongPointer, 0x08, 0x00}, {midi.Continue}, {midi.Start}} {
					if err := send(ctx, s, m...); err != nil {
						return err
					}
					if err := steady(ctx, s, 3); err != nil {
						return err
					}
				}
			}
			return nil
		}, []string{"the song has stopped"}},
		{"notes and a message of many bytes between", func(ctx context.Context, s *stage) error {
			for range 8 {
				if err := send(ctx, s, 0x90, 0x3C, 0x40, 0xF0, 0x7D, 0x01); err != nil {
					return err
				}
				if err := steady(ctx, s, 1); err != nil {
					return err
				}
				if err := send(ctx, s, 0x02, 0xF7, 0x80, 0x3C, 0x40); err != nil {
					return err
				}
			}
			return nil
		}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := onStage(t, "five-line", emulator.Options{}, followsThreeHeads, nil, c.play)
			require.NoError(t, s.err)
			require.Len(t, s.updates, 1)
			require.InEpsilon(t, 120, float64(s.updates[0].Tempo), 0.002)
			require.Len(t, s.said, len(c.said), "%q", s.said)
			for i, words := range c.said {
				require.Contains(t, s.said[i], words)
			}
		})
	}
}

// TestNoClock: somebody is told after a while that none comes, once.
func TestNoClock(t *testing.T) {
	s := onStage(t, "five-line", emulator.Options{}, followsThreeHeads, nil, func(context.Context, *stage) error {
		time.Sleep(time.Minute)
		return nil
	})
	require.NoError(t, s.err)
	require.Empty(t, s.updates)
	require.Equal(t, []string{"no clock has come yet: is its sender on, and told to send MIDI clock?"}, s.said)
	require.Zero(t, s.ended.Tempo)
}

// TestTheNewestTempoWins: a device whose every answer comes 350 ms late (its manual
// allows 400) needs 1.8 s for an update of its five lines' times. On the ramp no two
// overlap, none is queued: each is for the tempo of the moment at which it began.
func TestTheNewestTempoWins(t *testing.T) {
	m := tempoMap{from: 100, to: 140, hold: 40, beats: 32}
	o := emulator.Options{Faults: emulator.Faults{LateAnswer: emulator.Every, LateBy: 350 * time.Millisecond}}
	s := onStage(t, "five-line", o, followsThreeHeads, nil, func(ctx context.Context, s *stage) error { return m.play(ctx, s.clock, 90) })
	require.NoError(t, s.err)
	require.Greater(t, len(s.updates), 5)
	seconds := 0.0
	for i, u := range s.updates[1:] {
		// On this ramp the estimate is late by a beat at the most, which is 1.25 BPM.
		require.InDelta(t, float64(m.tempoAt(u.At)), float64(u.Tempo), 1.5, "update %d", i+1)
		require.LessOrEqual(t, s.updates[i].At.Seconds()+float64(s.updates[i].Spent.Seconds), u.At.Seconds()+1e-9, "update %d began before the one before had ended", i+1)
		require.Len(t, u.Sent, 5)
		require.Equal(t, 5, u.Spent.Messages)
		seconds += float64(u.Spent.Seconds)
	}
	// An update takes 5·350 ms = 1.75 s and the wire time of its bytes at
	// the least (five-line.md), and the ramp 60·32/40·ln(1.4) = 16.2 s.
	require.LessOrEqual(t, len(s.updates)-1, 10)
	require.Greater(t, seconds/float64(len(s.updates)-1), 1.75)
}

// TestCtrlCLeavesAWholeSet: the following ends at any moment of a ramp; what
// the device then holds is one whole set of times, the one that was told last.
func TestCtrlCLeavesAWholeSet(t *testing.T) {
	m := tempoMap{from: 100, to: 140, hold: 4, beats: 16}
	for ms := 1400; ms < 9000; ms += 397 {
		s := onStage(t, "five-line", emulator.Options{}, followsThreeHeads, nil, func(ctx context.Context, s *stage) error {
			ctx, stop := context.WithTimeout(ctx, time.Duration(ms)*time.Millisecond)
			defer stop()
			require.ErrorIs(t, m.play(ctx, s.clock, 40), context.DeadlineExceeded)
			return nil
		})
		require.NoError(t, s.err)
		sound, err := s.unit.Sound(emulator.EditBuffer)
		require.NoError(t, err)
		for i, name := range []string{"line A time", "line B time", "line C time", "line D time", "line E time"} {
			code, err := sound.Code(name)
			require.NoError(t, err)
			p := s.Device.Lines[i].Parameter(profiles.RoleTime)
			require.Equal(t, s.ended.Last.sets.Codes[p], code, "%s after %d ms", name, ms)
		}
		require.Equal(t, s.updates[len(s.updates)-1].Tempo, s.ended.Last.Tempo)
	}
}
