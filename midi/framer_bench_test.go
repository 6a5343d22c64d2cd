package midi

import (
	"math/rand/v2"
	"slices"
	"testing"

	"gitlab.com/gomidi/midi/v2/drivers"
)

// mixed is a stream as a busy line has it: control changes with and without
// running status, clocks, and SysEx of the given size.
func mixed(turns, size int) []byte {
	var s []byte
	for i := range turns {
		s = append(s, 0xB0, 7, byte(i&0x7F), 10, 64, 0xF8, 0x90, 60, 100, 0xF0, 0x7D)
		for j := range size {
			if j == size/2 {
				s = append(s, 0xF8)
			}
			s = append(s, byte((i+j)&0x7F))
		}
		s = append(s, 0xF7)
	}
	return s
}

// noisy is a stream as a bad cable and other people make it: clocks, notes under
// running status, SysEx without an end, bytes of no message.
func noisy(bytes int) []byte {
	r := rand.New(rand.NewPCG(1, 2))
	var s []byte
	for len(s) < bytes {
		switch kind := r.IntN(10); {
		case kind < 4:
			s = append(s, 0xF8)
		case kind < 7:
			s = append(s, 0x90|byte(r.IntN(16)), byte(r.IntN(128)), byte(r.IntN(128)), byte(r.IntN(128)), byte(r.IntN(128)))
		case kind < 8:
			s = append(s, 0xF0, 0x7D, byte(r.IntN(128)), byte(r.IntN(128)))
		default:
			s = append(s, 0xF4, byte(r.IntN(128)), byte(r.IntN(128)))
		}
	}
	return s
}

// random bytes are no stream that any line carries: half of them are statuses, and
// no branch can be foretold. They show the worst; nothing is claimed of them.
func random(bytes int) []byte {
	r := rand.New(rand.NewPCG(3, 4))
	s := make([]byte, bytes)
	for i := range s {
		s[i] = byte(r.Uint32())
	}
	return s
}

type stream struct {
	name  string
	bytes []byte
}

var streams = []stream{
	{"dumps of 110 bytes between controls", mixed(500, 110)},
	{"dumps of 4096 bytes", mixed(16, 4096)},
	{"controls only", mixed(4000, 0)},
	{"noise", noisy(64 << 10)},
}

// wanted is the speed that we claim at least, in MB/s.
const wanted = 200

func BenchmarkFramer(b *testing.B) {
	for _, s := range append(slices.Clone(streams), stream{"random bytes", random(64 << 10)}) {
		b.Run(s.name, func(b *testing.B) {
			var f Framer
			messages := 0
			emit := func(Frame) { messages++ }
			b.SetBytes(int64(len(s.bytes)))
			b.ReportAllocs()
			for b.Loop() {
				f.Feed(s.bytes, emit)
			}
			b.ReportMetric(float64(messages)/b.Elapsed().Seconds()/1e6, "Mmsg/s")
			if s.name != "random bytes" {
				b.ReportMetric(wanted, "MB/s-wanted")
			}
		})
	}
}

// The reader of gomidi/midi v2 on the same streams, with room for the longest dump.
func BenchmarkFramerBesideGomidi(b *testing.B) {
	for _, s := range streams {
		b.Run(s.name, func(b *testing.B) {
			messages := 0
			r := drivers.NewReader(drivers.ListenConfig{SysEx: true, SysExBufferSize: 8192}, func([]byte, int32) { messages++ })
			b.SetBytes(int64(len(s.bytes)))
			b.ReportAllocs()
			for b.Loop() {
				r.EachMessage(s.bytes, 0)
			}
			b.ReportMetric(float64(messages)/b.Elapsed().Seconds()/1e6, "Mmsg/s")
		})
	}
}
