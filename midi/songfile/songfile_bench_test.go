package songfile

import (
	"bytes"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
	"gitlab.com/gomidi/midi/v2/smf"
)

const million = 1_000_000

// long is a song of a million events: controllers and notes, now and then a
// tempo, every thousandth event System Exclusive of 20 bytes.
func long(t testing.TB) []byte {
	track := Track{Events: make([]Event, million)}
	exclusive := append(append([]byte{0xF0, 0x7D}, make([]byte, 17)...), 0xF7)
	for i := range track.Events {
		e := &track.Events[i]
		e.At = Tick(7 * i)
		switch {
		case i%1000 == 0:
			e.Bytes = exclusive
		case i%500 == 0:
			e.Bytes = Tempo(500_000 + i%1000).event(0).Bytes
		case i%2 == 0:
			e.Bytes = []byte{0x90, byte(i >> 1 & 0x7F), 100}
		default:
			e.Bytes = []byte{0xB0, 7, byte(i >> 1 & 0x7F)}
		}
	}
	b, err := Format(File{0, 480, []Track{track}})
	require.NoError(t, err)
	return b
}

// The same file for gomidi's reader, which stands beside ours in the benchmark.
func TestGomidiFindsTheSameMillionEvents(t *testing.T) {
	b := long(t)
	ours, err := Parse("long.mid", b)
	require.NoError(t, err)
	theirs, err := smf.ReadFrom(bytes.NewReader(b))
	require.NoError(t, err)
	require.Len(t, ours.Tracks[0].Events, million)
	require.Len(t, theirs.Tracks[0], million+1, "it counts the end of the track")
	now := Tick(0)
	for i, e := range ours.Tracks[0].Events {
		other := theirs.Tracks[0][i]
		now += Tick(other.Delta)
		same := e.At == now
		if _, data, meta := e.Meta(); meta {
			same = same && bytes.HasSuffix(other.Message, data)
		} else {
			same = same && bytes.Equal(e.Bytes, other.Message)
		}
		if !same {
			require.Failf(t, "another event", "%d: at %d % X, by gomidi at %d % X", i, e.At, e.Bytes, now, other.Message)
		}
	}
}

// held is the memory that stays in use for what make gives.
func held(make func() any) float64 {
	heap := func() uint64 {
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	before := heap()
	kept := make()
	after := heap()
	runtime.KeepAlive(kept)
	return float64(after) - float64(before)
}

func BenchmarkParse(b *testing.B) {
	file := long(b)
	for _, c := range []struct {
		name string
		read func() (any, error)
	}{
		{"a million events", func() (any, error) { return Parse("long.mid", file) }},
		{"a million events by gomidi", func() (any, error) { return smf.ReadFrom(bytes.NewReader(file)) }},
	} {
		b.Run(c.name, func(b *testing.B) {
			kept := held(func() any {
				f, err := c.read()
				require.NoError(b, err)
				return f
			})
			b.SetBytes(int64(len(file)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := c.read(); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(kept/(1<<20), "MiB_held")
			b.ReportMetric(million*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mevents/s")
		})
	}
}

func BenchmarkFormat(b *testing.B) {
	file := long(b)
	f, err := Parse("long.mid", file)
	require.NoError(b, err)
	b.Run("a million events", func(b *testing.B) {
		b.SetBytes(int64(len(file)))
		for b.Loop() {
			if _, err := Format(f); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkTempoMap(b *testing.B) {
	f, err := Parse("long.mid", long(b))
	require.NoError(b, err)
	m, err := f.TempoMap()
	require.NoError(b, err)
	b.Run("time of a tick, 1000 tempi", func(b *testing.B) {
		b.ReportAllocs()
		tick := Tick(0)
		for b.Loop() {
			m.TimeAt(tick)
			if tick += 9973; tick > 7*million {
				tick = 0
			}
		}
	})
}
