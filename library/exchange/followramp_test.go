package exchange

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi/songclock"
	"echowright/preset"
	"echowright/profiles/emulator"
)

// TestTheTapsGoAlongARamp: the tempo goes from 100 to 140 BPM, and back, within eight
// bars of four, and within four. From when the first setting is there until the end,
// each time the hardware is looked at, every 20 ms, its taps lie within what can
// just be noticed (6 ms or 2.5 %, Friberg & Sundberg 1995) of what the tempo of that
// very moment wants.
func TestTheTapsGoAlongARamp(t *testing.T) {
	for _, c := range []struct {
		device string
		unit   preset.Unit
		note   preset.Note
	}{
		{"five-line", followUnit(375, true, 1./3, 2./3, 1), preset.Note{Denominator: 8, Dots: 1}},
		{"tap-loop", followUnit(375, true, 0.2, 0.4, 0.6, 0.8, 1), quarter},
		{"open-parameter", followUnit(375, false, 0.25, 0.5, 0.75, 1), quarter},
		{"twin", followUnit(375, false, 0.5, 1), quarter},
	} {
		for _, m := range []tempoMap{
			{from: 100, to: 140, hold: 8, beats: 32},
			{from: 140, to: 100, hold: 8, beats: 32},
			{from: 100, to: 140, hold: 8, beats: 16},
		} {
			t.Run(fmt.Sprintf("%s from %v to %v in %v beats", c.device, m.from, m.to, m.beats), func(t *testing.T) {
				looks, worst := 0, 0.0
				s := onStage(t, c.device, emulator.Options{}, func(s *stage) {
					s.options.Wanted = wantedOf(s.Device, c.unit, c.note)
					s.options.Thru = s.thru
				}, func(s *stage, since time.Duration) {
					if since > 3*time.Second {
						looks++
						worst = max(worst, farthest(t, s.unit, c.unit, c.note, m.tempoAt(since)))
					}
				}, func(ctx context.Context, s *stage) error { return m.play(ctx, s.clock, 16+int(m.beats)) })
				t.Logf("%d updates, %d messages, %d bytes; at worst %.2f of what can be noticed, in %d looks", s.ended.Updates, s.ended.Spent.Messages, s.ended.Spent.Bytes, worst, looks)
				require.NoError(t, s.err)
				require.Empty(t, s.said)
				require.Greater(t, looks, 400)
				require.LessOrEqual(t, worst, 1.0)
				for i, u := range s.updates[1:] {
					last := len(u.Heads) - 1
					require.True(t, songclock.Heard(s.updates[i].Heads[last].Delay, u.Heads[last].Delay), "update %d would not be heard", i+1)
				}
				// A byte has 320 µs on the wire (MIDI 1.0, page 1); what goes over it while
				// everything moves is a small part of what could.
				require.Less(t, float64(s.ended.Spent.Bytes)*320e-6, 0.1*m.at(16+m.beats).Seconds())
			})
		}
	}
}
