package midi

import (
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

var streams = []struct {
	name  string
	bytes []byte
}{
	{"dumps of 110 bytes between controls", mixed(500, 110)},
	{"dumps of 4096 bytes", mixed(16, 4096)},
	{"controls only", mixed(4000, 0)},
}

func BenchmarkFramer(b *testing.B) {
	for _, s := range streams {
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
