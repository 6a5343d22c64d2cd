package songclock

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// recorded is a minute of clock at 300 BPM with 2 ms of jitter.
func recorded() []time.Duration {
	const tempo = 300
	jitter := gaussian(rand.New(rand.NewPCG(23, 24)), 2)
	at, last := make([]time.Duration, tempo*PerBeat), 0.0
	for n := range at {
		last = max(last, 1000+float64(n)*period(tempo)+jitter())
		at[n] = millis(last)
	}
	return at
}

func TestNothingIsAllocatedForAClock(t *testing.T) {
	at, clock := recorded(), []byte{midi.TimingClock}
	var f Follower
	n := 0
	require.Zero(t, testing.AllocsPerRun(len(at)-1, func() {
		f.Hear(clock, at[n])
		if f.State().Clocks < 0 {
			t.Fatal("clocks count upwards")
		}
		n++
	}))
}

// The limit is 1 % of a core at 300 BPM, 120 clocks a second: 83 µs a clock.
func BenchmarkClock(b *testing.B) {
	at, clock := recorded(), []byte{midi.TimingClock}
	b.ReportAllocs()
	var f Follower
	n := 0
	for b.Loop() {
		if n == len(at) {
			f, n = Follower{}, 0
		}
		f.Hear(clock, at[n])
		n++
	}
	perClock := b.Elapsed().Seconds() / float64(b.N)
	b.ReportMetric(100*perClock*300*PerBeat/60, "%-of-a-core-at-300-BPM")
	b.ReportMetric(1, "%-limit")
	if share := perClock * 300 * PerBeat / 60; share > 0.01 {
		b.Fatalf("%.2f %% of a core", 100*share)
	}
}
