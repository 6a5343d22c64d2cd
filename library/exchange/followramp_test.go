package exchange

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles/emulator"
)

// TestTheTapsGoAlongARamp: the tempo goes from 100 to 140 BPM over eight bars of
// four. From when the first setting is there until the end, each time the hardware
// is looked at, every 20 ms, its taps lie within what can just be noticed (6 ms or
// 2.5 %, Friberg & Sundberg 1995) of what the tempo of that very moment wants.
func TestTheTapsGoAlongARamp(t *testing.T) {
	for _, c := range []struct {
		device string
		unit   preset.Unit
		note   preset.Note
	}{
		{"five-line", followUnit(375, true, 1./3, 2./3, 1), preset.Note{Denominator: 8, Dots: 1}},
		{"tap-loop", followUnit(375, true, 0.2, 0.4, 0.6, 0.8, 1), preset.Note{Denominator: 4}},
		{"open-parameter", followUnit(375, false, 0.25, 0.5, 0.75, 1), preset.Note{Denominator: 4}},
		{"twin", followUnit(375, false, 0.5, 1), preset.Note{Denominator: 4}},
	} {
		t.Run(c.device, func(t *testing.T) {
			m := tempoMap{from: 100, to: 140, hold: 8, beats: 32}
			looks, worst := 0, 0.0
			s := onStage(t, c.device, emulator.Options{}, func(s *stage) {
				s.options.Wanted = wantedOf(s.Device, c.unit, c.note)
				s.options.Thru = s.thru
			}, func(s *stage, since time.Duration) {
				if since > 3*time.Second {
					looks++
					worst = max(worst, farthest(t, s.unit, c.unit, c.note, m.tempoAt(since)))
				}
			}, func(ctx context.Context, s *stage) error { return m.play(ctx, s.clock, 48) })
			t.Logf("%d updates, %d messages, %d bytes; at worst %.2f of what can be noticed, in %d looks", s.ended.Updates, s.ended.Spent.Messages, s.ended.Spent.Bytes, worst, looks)
			require.NoError(t, s.err)
			require.Empty(t, s.said)
			require.Greater(t, looks, 500)
			require.LessOrEqual(t, worst, 1.0)
		})
	}
}
