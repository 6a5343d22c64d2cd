//go:build unix

package cli

import (
	"fmt"
	"runtime"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/preset"
	"echowright/profiles"
)

// longSet is a set of n songs, no two alike: tempi from 60 BPM on in steps of half a
// beat a minute, the heads and notes as in a real set.
func longSet(tb testing.TB, n int) []broughtSong {
	notes := []string{"1/8.", "1/4", "1/8", "1/4t"}
	heads := [][]int{nil, {1, 3}, {2}, {2, 3}}
	all := make([]broughtSong, n)
	for i := range all {
		s := setSong{unit: threeHeads(), tempo: 60 + preset.BPM(i)/2}
		s.Song = library.Song{
			Title: fmt.Sprintf("Song %d", i+1), Mode: library.ModeSpeed, Note: notes[i%len(notes)], Heads: heads[(i/len(notes))%len(heads)], Slot: i % 64,
		}
		var err error
		all[i], err = bring(s)
		require.NoError(tb, err)
	}
	return all
}

// processorTime is what this process has used of all processors.
func processorTime(tb testing.TB) time.Duration {
	var used syscall.Rusage
	require.NoError(tb, syscall.Getrusage(syscall.RUSAGE_SELF, &used))
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// The claim is that 200 songs are planned in under 2 s on two cores. On a machine
// that has other work, the processors' time tells more than the clock.
func BenchmarkPlanOf200Songs(b *testing.B) {
	d, err := profiles.Shipped("five-line")
	require.NoError(b, err)
	a := address{device: d, unit: d.Manners.FirstUnit}
	songs := longSet(b, 200)
	began := processorTime(b)
	for b.Loop() {
		planned, err := planAll(b.Context(), songs, a)
		require.NoError(b, err)
		require.Len(b, planned, 200)
	}
	used := processorTime(b) - began
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/set")
	b.ReportMetric(used.Seconds()/float64(b.N), "processor-s/set")
	b.ReportMetric(float64(runtime.GOMAXPROCS(0)), "cores")
	b.ReportMetric(2, "limit-s/set")
}
