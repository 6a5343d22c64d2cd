package midi

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// told writes what a framer gave in one line: hex, with the fault behind it
// where there is one.
func told(frames []Frame) string {
	var words []string
	for _, f := range frames {
		word := Hex(f.Bytes)
		if f.Fault != Whole {
			word += " (" + f.Fault.String() + ")"
		}
		words = append(words, word)
	}
	return strings.Join(words, " | ")
}

// frame feeds the stream in pieces of the given size, 0 for all at once.
func frame(f *Framer, stream []byte, piece int) []Frame {
	var out []Frame
	keep := func(m Frame) { out = append(out, Frame{Bytes: bytes.Clone(m.Bytes), Fault: m.Fault}) }
	if piece == 0 {
		piece = max(1, len(stream))
	}
	for len(stream) > 0 {
		n := min(piece, len(stream))
		f.Feed(stream[:n], keep)
		stream = stream[n:]
	}
	return out
}

func bytesOf(t testing.TB, hex string) []byte {
	t.Helper()
	b, err := ParseHex(hex)
	require.NoError(t, err)
	return b
}

// The behaviour is that of the MIDI 1.0 Detailed Specification 4.2.1: pages 5, 29
// and 34, tables I, V, VI and VII, appendix. The bytes were made for
// these tests by those rules.
func TestFramer(t *testing.T) {
	for _, tc := range []struct {
		name, in, want string
		stray          int64
	}{
		{name: "running status, the example of A-1",
			in: "90 3C 27 40 2B 43 25", want: "90 3C 27 | 90 40 2B | 90 43 25"},
		{name: "the same with every status sent",
			in: "90 3C 27 90 40 2B 90 43 25", want: "90 3C 27 | 90 40 2B | 90 43 25"},
		{name: "each channel message has its own length",
			in:   "81 01 02 92 03 04 A3 05 06 B4 07 08 C5 09 D6 0A E7 0B 0C",
			want: "81 01 02 | 92 03 04 | A3 05 06 | B4 07 08 | C5 09 | D6 0A | E7 0B 0C"},
		{name: "running status of one data byte", in: "C0 05 06 D0 07 08", want: "C0 05 | C0 06 | D0 07 | D0 08"},
		{name: "each system common message has its own length",
			in: "F1 35 F2 00 01 F3 07 F6", want: "F1 35 | F2 00 01 | F3 07 | F6"},
		{name: "real-time bytes inside SysEx are given before it",
			in: "F0 7D 01 F8 02 FE F7", want: "F8 | FE | F0 7D 01 02 F7"},
		{name: "a note on ends a SysEx", in: "F0 7D 01 90 3C 40", want: "F0 7D 01 (cut short) | 90 3C 40"},
		{name: "a SysEx ends a SysEx", in: "F0 7D 01 F0 7D 02 F7", want: "F0 7D 01 (cut short) | F0 7D 02 F7"},
		{name: "a tune request ends a SysEx", in: "F0 7D F6 01", want: "F0 7D (cut short) | F6", stray: 1},
		{name: "an undefined status ends a SysEx", in: "F0 7D F4 01 F7", want: "F0 7D (cut short)", stray: 2},
		{name: "a clock between notes leaves running status",
			in: "90 3C 40 F8 3E 40", want: "90 3C 40 | F8 | 90 3E 40"},
		{name: "a clock inside a note", in: "90 3C F8 40", want: "F8 | 90 3C 40"},
		{name: "song select clears running status",
			in: "90 3C 40 F3 01 3E 40", want: "90 3C 40 | F3 01", stray: 2},
		{name: "SysEx clears running status",
			in: "B0 07 64 F0 7D F7 07 40", want: "B0 07 64 | F0 7D F7", stray: 2},
		{name: "undefined F4 and F5 clear running status and take their data with them",
			in: "B0 07 64 F4 07 40 B0 07 65 F5 01", want: "B0 07 64 | B0 07 65", stray: 5},
		{name: "undefined F9 and FD leave running status",
			in: "B0 07 64 F9 07 FD 40", want: "B0 07 64 | B0 07 40", stray: 2},
		{name: "undefined F9 and FD leave a SysEx whole", in: "F0 7D F9 01 FD F7", want: "F0 7D 01 F7", stray: 2},
		{name: "F7 alone is no error and no message", in: "F7"},
		{name: "F7 alone clears running status", in: "B0 07 64 F7 07 40", want: "B0 07 64", stray: 2},
		{name: "a new status in mid-message begins anew", in: "90 3C B0 07 64", want: "B0 07 64", stray: 2},
		{name: "data at the very beginning", in: "01 02 90 03 04", want: "90 03 04", stray: 2},
		{name: "an empty SysEx", in: "F0 F7", want: "F0 F7"},
		{name: "all real-time messages", in: "F8 FA FB FC FE FF", want: "F8 | FA | FB | FC | FE | FF"},
		{name: "a SysEx without an end gives nothing yet", in: "F0 7D 01"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			for _, piece := range []int{0, 1, 2, 3} {
				var f Framer
				got := frame(&f, bytesOf(t, tc.in), piece)
				require.Equal(t, tc.want, told(got), "in pieces of %d", piece)
				require.Equal(t, tc.stray, f.Stray(), "stray bytes, in pieces of %d", piece)
			}
		})
	}
}

func TestFramerEnd(t *testing.T) {
	var f Framer
	require.Empty(t, frame(&f, bytesOf(t, "F0 7D 01"), 0))
	require.True(t, f.InSysEx())
	var got []Frame
	f.End(func(m Frame) { got = append(got, m) })
	require.Equal(t, "F0 7D 01 (cut short)", told(got))
	require.False(t, f.InSysEx())

	require.Empty(t, frame(&f, bytesOf(t, "90 3C"), 0))
	require.False(t, f.InSysEx())
	f.End(func(Frame) { t.Fatal("half a note is no message") })
	require.EqualValues(t, 2, f.Stray())
	require.Empty(t, frame(&f, bytesOf(t, "3C 40"), 0), "running status ends with the stream")
}

func TestWhatIsUnderWay(t *testing.T) {
	for in, want := range map[string]bool{
		"": false, "01": false, "F0": true, "F0 7D F8": true, "F0 7D F7": false, "90": true, "90 3C": true, "90 3C 40": false,
		"90 3C 40 3E": true, "90 3C 40 F8": false, "F2 01": true, "F2 01 02": false, "F2 01 02 03": false, "F6": false, "F0 7D F4 01": false,
	} {
		var f Framer
		frame(&f, bytesOf(t, in), 0)
		require.Equal(t, want, f.UnderWay(), "%q", in)
	}
}

func TestFramerLimit(t *testing.T) {
	const limit = 6
	for _, tc := range []struct {
		name, in, want string
		stray          int64
	}{
		{"as long as the limit", "F0 01 02 03 04 F7", "F0 01 02 03 04 F7", 0},
		{"one more", "F0 01 02 03 04 05 F7", "F0 01 02 03 04 (too long)", 1},
		{"far more", "F0 01 02 03 04 05 06 07 08 F7", "F0 01 02 03 04 (too long)", 4},
		{"too long and broken off", "F0 01 02 03 04 05 F6", "F0 01 02 03 04 (too long) | F6", 1},
		{"the next one is whole again", "F0 01 02 03 04 05 F7 F0 06 F7", "F0 01 02 03 04 (too long) | F0 06 F7", 1},
		{"a clock still comes through", "F0 01 02 03 04 05 F8 06 F7", "F8 | F0 01 02 03 04 (too long)", 2},
	} {
		t.Run(tc.name, func(t *testing.T) {
			for _, piece := range []int{0, 1, 4} {
				f := Framer{Limit: limit}
				require.Equal(t, tc.want, told(frame(&f, bytesOf(t, tc.in), piece)))
				require.Equal(t, tc.stray, f.Stray())
			}
		})
	}
	t.Run("a stream that never ends stays within the limit", func(t *testing.T) {
		f := Framer{Limit: 1000}
		frame(&f, append([]byte{0xF0}, make([]byte, 1<<20)...), 4096)
		require.LessOrEqual(t, cap(f.long), 2*f.Limit)
	})
}

func TestFramerDoesNotAllocate(t *testing.T) {
	for _, stream := range [][]byte{mixed(200, 120), mixed(400, 0), noisy(4096), random(4096)} {
		f := Framer{Limit: 1000}
		count := 0
		emit := func(Frame) { count++ }
		f.Feed(stream, emit) // grows the buffer
		f.Feed(stream, emit) // and to what begins in one round and ends in the next
		require.Zero(t, testing.AllocsPerRun(100, func() { f.Feed(stream, emit) }))
		require.Positive(t, count)
	}
}

// naive frames a whole stream the slow way: first the real-time bytes are taken
// out, then the rest is cut at each status. It shares nothing with the framer
// and says only what the messages are, real-time ones apart, because their place
// among the others is lost.
func naive(stream []byte) (messages, realTime []string) {
	var rest []byte
	for _, c := range stream {
		switch {
		case c >= 0xF8 && c != 0xF9 && c != 0xFD:
			realTime = append(realTime, fmt.Sprintf("%02X", c))
		case c < 0xF8:
			rest = append(rest, c)
		}
	}
	lengths := map[byte]int{0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}
	for i := 0; i < len(rest); {
		j := i + 1
		for j < len(rest) && rest[j] < 0x80 {
			j++
		}
		status, data := rest[i], rest[i+1:j]
		switch {
		case status < 0x80: // data before any status
		case status < 0xF0:
			for n := lengths[status>>4]; len(data) >= n; data = data[n:] {
				messages = append(messages, Hex(append([]byte{status}, data[:n]...)))
			}
		case status == 0xF0 && j < len(rest) && rest[j] == 0xF7:
			messages = append(messages, Hex(append(append([]byte{status}, data...), 0xF7)))
		case status == 0xF0 && j < len(rest):
			messages = append(messages, Hex(append([]byte{status}, data...))+" (cut short)")
		case (status == 0xF1 || status == 0xF3) && len(data) >= 1:
			messages = append(messages, Hex([]byte{status, data[0]}))
		case status == 0xF2 && len(data) >= 2:
			messages = append(messages, Hex([]byte{status, data[0], data[1]}))
		case status == 0xF6:
			messages = append(messages, "F6")
		}
		i = j
	}
	return messages, realTime
}

func FuzzFramer(f *testing.F) {
	for _, seed := range []string{
		"90 3C 27 40 2B 43 25", "F0 7D 01 F8 02 FE F7", "F0 7D 01 90 3C 40", "90 3C 40 F3 01 3E 40", "F7",
		"B0 07 64 F4 07 40 F5", "F0 F0 F7 F7", "F2 01 F8 02 C0 C1 05 06", "F0 01 02 03 04 05 06 07 08 09 0A 0B F9 0C F7",
	} {
		b, _ := ParseHex(seed)
		f.Add(b, uint8(3))
	}
	f.Fuzz(func(t *testing.T, stream []byte, piece uint8) {
		var whole, pieces Framer
		got := frame(&whole, stream, 0)
		require.Equal(t, told(got), told(frame(&pieces, stream, int(piece)+1)), "the cut of the stream must not matter")
		require.Equal(t, whole.Stray(), pieces.Stray())

		var messages, realTime []string
		for _, m := range got {
			if m.RealTime() {
				realTime = append(realTime, told([]Frame{m}))
			} else {
				messages = append(messages, told([]Frame{m}))
			}
		}
		wantMessages, wantRealTime := naive(stream)
		require.Equal(t, wantMessages, messages)
		require.Equal(t, wantRealTime, realTime)

		short := Framer{Limit: 8}
		for _, m := range frame(&short, stream, int(piece)+1) {
			require.LessOrEqual(t, len(m.Bytes), 8)
		}
	})
}
