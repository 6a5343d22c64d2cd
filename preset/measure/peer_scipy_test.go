package measure

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// python that has SciPy, where a system has it in its packages.
const python = "/usr/bin/python3"

const (
	peerRate  = 48_000.0
	peerAlone = 0.08 // s that the direct sound is alone in each of the takes
)

// A peerTake is a simulated take of four seconds and what it was made with.
type peerTake struct {
	samples []float64
	want    preset.Unit
}

var peerTakes = sync.OnceValue(func() []peerTake {
	tone := []biquad{highPass1(80, peerRate*over), lowPass1(3000, peerRate*over)}
	longer := plucked{pitch: 147, bright: 0.8, ring: 0.5, damp: 0.3, scratch: 0.3, peak: 0.4}
	var all []peerTake
	for i, c := range []struct {
		note plucked
		unit unit
	}{
		// Echoes that stand apart, the case that is easy for everybody.
		{shortNote, unit{delays: []float64{121, 263, 405}, levels: []float64{-7, 0, -2}, feeds: []int{2}, loop: -7, tone: tone}},
		// Echoes that overlap: 50 ms apart, or of a note longer than the first delay.
		{shortNote, unit{delays: []float64{100.7, 150.2, 201.1, 250.6, 300.9, 349.3}, levels: []float64{-4, -6, -1, 0, -3, -5}, feeds: []int{5}, loop: -8, tone: tone}},
		{longer, unit{delays: []float64{97.31, 188.82, 301.27}, levels: []float64{0, -3, -5}, feeds: []int{0}, loop: -9, tone: tone}},
	} {
		x, _, _ := record(rand.New(rand.NewSource(int64(i))), c.note, c.unit, recording{rate: peerRate, lead: 0.25, seconds: 4, noise: -72})
		heads := make([]int, len(c.unit.delays))
		for k := range heads {
			heads[k] = k + 1
		}
		all = append(all, peerTake{x, c.unit.truth(heads, peerRate)})
	}
	return all
})

// A reading is what a way of measuring reads off a take: delay in ms, and level
// in dB on any scale.
type reading struct{ ms, db float64 }

// peerError is the root mean square error of delays (ms) and of levels (dB, to
// that of the loudest head). To each head belongs the reading that lies nearest,
// so that inventing echoes costs nothing here.
func peerError(takes []peerTake, readings [][]reading) (ms, db float64) {
	n := 0.0
	for i, t := range takes {
		var got []reading
		for _, h := range t.want.Heads {
			best := reading{math.Inf(1), math.Inf(-1)}
			for _, r := range readings[i] {
				if math.Abs(r.ms-float64(h.Delay)) < math.Abs(best.ms-float64(h.Delay)) {
					best = r
				}
			}
			got = append(got, best)
		}
		loudest := 0.0
		for k, h := range t.want.Heads {
			if h.Level == 0 {
				loudest = got[k].db
			}
		}
		for k, h := range t.want.Heads {
			late, loud := got[k].ms-float64(h.Delay), got[k].db-loudest-float64(h.Level)
			ms, db, n = ms+late*late, db+loud*loud, n+1
		}
	}
	return math.Sqrt(ms / n), math.Sqrt(db / n)
}

// bySciPy is what correlate.py reads off the takes, and the ms that it computed a
// take. It skips where there is no SciPy.
func bySciPy(tb testing.TB, takes []peerTake) (readings [][]reading, ms float64) {
	tb.Helper()
	if told, err := exec.Command(python, "-c", "import scipy.signal").CombinedOutput(); err != nil {
		tb.Skipf("SKIP: no SciPy to compare with: %v %s", err, told)
	}
	args := []string{filepath.Join("testdata", "peer", "correlate.py"), fmt.Sprint(peerRate), fmt.Sprint(1000 * peerAlone)}
	for i, t := range takes {
		path := filepath.Join(tb.TempDir(), fmt.Sprintf("%d.raw", i))
		raw := make([]byte, 0, 8*len(t.samples))
		for _, v := range t.samples {
			raw = binary.LittleEndian.AppendUint64(raw, math.Float64bits(v))
		}
		require.NoError(tb, os.WriteFile(path, raw, 0o600))
		args = append(args, path)
	}
	command := exec.Command(python, args...)
	command.Env = append(os.Environ(), "OMP_NUM_THREADS=1", "OPENBLAS_NUM_THREADS=1") // one core, as we use
	command.Stderr = os.Stderr
	out, err := command.Output()
	require.NoError(tb, err)
	var told []struct {
		Echoes [][2]float64
		MS     float64
	}
	require.NoError(tb, json.Unmarshal(out, &told))
	require.Len(tb, told, len(takes))
	for _, t := range told {
		var all []reading
		for _, e := range t.Echoes {
			all = append(all, reading{e[0], e[1]})
		}
		readings, ms = append(readings, all), ms+t.MS/float64(len(takes))
	}
	return readings, ms
}

// byArrivals is our stage of equal work: the take is searched for its note, the
// attack deconvolved from it, and the peaks picked.
func byArrivals(t peerTake) []reading {
	x := centred(t.samples)
	noise := noiseFloor(x, peerRate)
	notes := findNotes(x, peerRate, noise)
	if len(notes) == 0 {
		return nil
	}
	sound := excerpt(x, peerRate, notes[0].at, notes[0].end, noise)
	half := sound.thinned(halfRate, sound.rate)
	var all []reading
	for _, a := range attackOf(half, peerAlone).arrivals(half.rate, mostArrivals, half.length()) {
		all = append(all, reading{1000 * a.at, decibels(math.Abs(a.amp))})
	}
	return all
}

// byHeads is the whole measurement.
func byHeads(t peerTake) []reading {
	r, err := Heads(Take{Rate: peerRate, Samples: t.samples}, Options{Heads: t.want.HeadNumbers()})
	if err != nil {
		return nil
	}
	var all []reading
	for _, h := range r.Unit.Heads {
		all = append(all, reading{float64(h.Delay), float64(h.Level)})
	}
	return all
}

func eachTake(read func(peerTake) []reading) (all [][]reading) {
	for _, t := range peerTakes() {
		all = append(all, read(t))
	}
	return all
}

// Where echoes stand apart a correlation is right to a sample of time, 0.02 ms;
// where they overlap, or the note is longer than a delay, it takes one period of
// the note for another. Over all takes, fitting the machine is to be ten times as
// right in delay and in level, and is so by far.
func TestHeadsAreTenTimesAsRightAsCorrelation(t *testing.T) {
	readings, _ := bySciPy(t, peerTakes())
	theirMS, theirDB := peerError(peerTakes(), readings)
	arrivalMS, arrivalDB := peerError(peerTakes(), eachTake(byArrivals))
	ms, db := peerError(peerTakes(), eachTake(byHeads))
	t.Logf("RMS errors: correlation %.4f ms %.3f dB, arrivals %.4f ms %.3f dB, heads %.5f ms %.4f dB", theirMS, theirDB, arrivalMS, arrivalDB, ms, db)
	require.LessOrEqual(t, 10*ms, theirMS)
	require.LessOrEqual(t, 10*db, theirDB)
	require.LessOrEqual(t, arrivalMS, theirMS, "the stage of equal work is no worse either")
	require.LessOrEqual(t, arrivalDB, theirDB)
}

// BenchmarkBesideSciPy is the same work done by SciPy and by us, and our whole
// measurement, on the same takes of four seconds.
func BenchmarkBesideSciPy(b *testing.B) {
	b.Run("SciPy, correlation and peaks", func(b *testing.B) {
		for b.Loop() {
			readings, ms := bySciPy(b, peerTakes())
			report(b, ms, readings)
		}
	})
	b.Run("arrivals, the stage of equal work", func(b *testing.B) { benchmarkReading(b, byArrivals) })
	b.Run("heads, the whole measurement", func(b *testing.B) { benchmarkReading(b, byHeads) })
}

// benchmarkReading takes the time as correlate.py does: the median of runs that
// follow one to warm up, of each take.
func benchmarkReading(b *testing.B, read func(peerTake) []reading) {
	takes := peerTakes()
	readings, ms := make([][]reading, len(takes)), 0.0
	runs := 0.0
	for b.Loop() {
		for i, t := range takes {
			readings[i] = read(t)
			var spent []float64
			for range 3 {
				began := time.Now()
				read(t)
				spent = append(spent, 1000*time.Since(began).Seconds())
			}
			slices.Sort(spent)
			ms, runs = ms+spent[1], runs+1
		}
	}
	report(b, ms/runs, readings)
}

func report(b *testing.B, ms float64, readings [][]reading) {
	lateness, loudness := peerError(peerTakes(), readings)
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(ms, "ms/take")
	b.ReportMetric(lateness, "ms-off")
	b.ReportMetric(loudness, "dB-off")
}
