package exchange

import (
	"context"
	"math"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/transfer"
	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/arrange"
	"echowright/profiles/emulator"
)

// A tempoMap is a song's tempo by the beat, and when each beat is.
type tempoMap struct {
	from, to preset.BPM
	hold     float64 // beats at the first tempo
	beats    float64 // over which it goes evenly to the other
}

func (m tempoMap) tempo(beat float64) float64 {
	share := min(1, max(0, (beat-m.hold)/m.beats))
	return float64(m.from) + float64(m.to-m.from)*share
}

// at is when a beat is: the integral of 60/tempo. For a tempo that goes evenly by
// the beat that is 60·beats/(to−from)·ln(tempo/from) s.
func (m tempoMap) at(beat float64) time.Duration {
	s := 60 / float64(m.from) * min(beat, m.hold)
	if ramped := min(m.beats, beat-m.hold); ramped > 0 && m.to != m.from {
		s += 60 * m.beats / float64(m.to-m.from) * math.Log(m.tempo(beat)/float64(m.from))
	} else if ramped > 0 {
		s += 60 / float64(m.from) * ramped
	}
	if after := beat - m.hold - m.beats; after > 0 {
		s += 60 / float64(m.to) * after
	}
	return time.Duration(s * float64(time.Second))
}

// tempoAt is the tempo at a time: the beat is found by halving.
func (m tempoMap) tempoAt(t time.Duration) preset.BPM {
	low, high := 0.0, 10_000.0
	for range 60 {
		if middle := (low + high) / 2; m.at(middle) > t {
			high = middle
		} else {
			low = middle
		}
	}
	return preset.BPM(m.tempo(low))
}

// play sends the clocks of so many beats: 24 to the beat (MIDI 1.0 Detailed
// Specification 4.2.1, page 30).
func (m tempoMap) play(ctx context.Context, to port.Port, beats int) error {
	began := time.Now()
	for n := range 24 * beats {
		if err := tick(ctx, to, began.Add(m.at(float64(n)/24))); err != nil {
			return err
		}
	}
	return nil
}

// tick sends one clock at a time.
func tick(ctx context.Context, to port.Port, at time.Time) error {
	if err := transfer.System().Sleep(ctx, time.Until(at)); err != nil {
		return err
	}
	return to.Send(ctx, []byte{midi.TimingClock})
}

// followUnit has its heads at shares of the last one's delay, each 1 dB below the
// one before, and a loop from the last where wanted.
func followUnit(last preset.Millis, loop bool, shares ...preset.Millis) preset.Unit {
	u := preset.Unit{Name: "follower", Kind: "drum"}
	for i, share := range shares {
		u.Heads = append(u.Heads, preset.Head{Head: i + 1, Delay: last * share, Level: -preset.Decibels(i)})
	}
	if loop {
		u.Feedback = &preset.Feedback{Heads: []int{len(shares)}, Gain: -9}
	}
	return u
}

// wantedOf brings the unit's last head onto a note and arranges it.
func wantedOf(d *profiles.Device, u preset.Unit, note preset.Note) func(preset.BPM) (FollowWanted, error) {
	return func(tempo preset.BPM) (FollowWanted, error) {
		w := FollowWanted{Tempo: tempo}
		r, err := preset.Retime(u, tempo, note, len(u.Heads))
		if err != nil {
			return w, err
		}
		for _, h := range r.Heads {
			w.Heads = append(w.Heads, HeadTime{h.Head, h.Delay})
		}
		p, err := r.Unit.Pattern()
		if err != nil {
			return w, err
		}
		made, err := arrange.Arrange(p, d)
		w.Setting = made.Setting
		return w, err
	}
}

// farthest is how far the wanted delays are from the nearest echo that the hardware
// makes now, in what can just be noticed.
func farthest(t *testing.T, unit *emulator.Unit, u preset.Unit, note preset.Note, tempo preset.BPM) float64 {
	t.Helper()
	sound, err := unit.Sound(emulator.EditBuffer)
	require.NoError(t, err)
	echoes, err := sound.Echoes(-50, 1000)
	require.NoError(t, err)
	worst := 0.0
	for _, h := range u.Heads {
		want := note.Length(tempo) * h.Delay / u.Heads[len(u.Heads)-1].Delay
		least := math.Inf(1)
		for _, e := range echoes {
			least = min(least, math.Abs(float64(e.At-want)))
		}
		worst = max(worst, least/float64(preset.TimingJND(want)))
	}
	return worst
}

// A stage is a device that follows a clock, and the cable that the clock comes on.
// It runs in a synctest bubble, on a clock of its own.
type stage struct {
	*Session
	unit  *emulator.Unit
	clock port.Port // the sender's end
	thru  *Thru

	options FollowOptions
	updates []FollowUpdate
	said    []string
	ended   Followed
	err     error
}

// onStage sets up the device and lets play send what comes on the clock's cable;
// the following ends when that returns. Look is called every 20 ms meanwhile.
func onStage(t *testing.T, name string, o emulator.Options, prepare func(*stage), look func(s *stage, since time.Duration), play func(ctx context.Context, s *stage) error) *stage {
	t.Helper()
	s := &stage{}
	synctest.Test(t, func(t *testing.T) {
		device, err := profiles.Shipped(name)
		require.NoError(t, err)
		s.unit, err = emulator.New(name, o)
		require.NoError(t, err)
		near, far := port.Pipe("the stage")
		s.thru = NewThru(near)
		link := transfer.Open(s.thru, transfer.Options{Name: "the stage", Retries: device.Manners.Retries, Piece: device.Manners.Buffer})
		out, in := port.Pipe("the clock")
		s.clock = out
		s.Session = &Session{Device: device, Unit: device.Manners.FirstUnit, Port: "emulator:" + name, Link: link, Now: time.Now}
		s.options = FollowOptions{
			Updated: func(u FollowUpdate) error { s.updates = append(s.updates, u); return nil },
			Said:    func(text string) { s.said = append(s.said, text) },
		}
		prepare(s)
		ctx, stop := context.WithCancel(t.Context())
		serving, unplug := context.WithCancel(t.Context())
		var others sync.WaitGroup
		others.Go(func() { _ = emulator.Serve(serving, far, s.unit) })
		others.Go(func() {
			defer stop()
			if err := play(ctx, s); ctx.Err() == nil && err != nil {
				t.Error(err)
			}
		})
		others.Go(func() {
			for began := time.Now(); ctx.Err() == nil; time.Sleep(20 * time.Millisecond) {
				if look != nil {
					look(s, time.Since(began))
				}
			}
		})
		s.ended, s.err = s.Follow(ctx, in, s.options)
		stop()
		require.NoError(t, link.Close())
		unplug()
		others.Wait()
	})
	return s
}
