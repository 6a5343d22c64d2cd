package osport

import (
	"bytes"
	"errors"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := midi.ParseHex(s)
	require.NoError(t, err)
	return b
}

func TestCutter(t *testing.T) {
	for _, tc := range []struct {
		name  string
		piece int
		feed  []string
		want  []string
		went  int // of the last
		err   error
	}{
		{name: "short messages", feed: []string{"90 3C 40 C0 05 F6"}, want: []string{"90 3C 40", "C0 05", "F6"}, went: 6},
		{name: "running status is written out", feed: []string{"B0 06 07 26 68"}, want: []string{"B0 06 07", "B0 26 68"}, went: 5},
		{name: "the rest comes later", feed: []string{"90 3C", "40"}, want: []string{"90 3C 40"}, went: 1},
		{name: "half a message is held back", feed: []string{"C0 05 90 3C"}, want: []string{"C0 05"}, went: 2},
		{name: "SysEx whole", feed: []string{"F0 7D 01 02", "03 F7 F8"}, want: []string{"F0 7D 01 02 03 F7", "F8"}, went: 3},
		{name: "SysEx in pieces", piece: 3, feed: []string{"F0 7D 01 02", "03 04 05 F7"}, want: []string{"F0 7D 01", "02 03 04", "05 F7"}, went: 4},
		{name: "the end as a piece", piece: 3, feed: []string{"F0 7D 01 F7"}, want: []string{"F0 7D 01", "F7"}, went: 4},
		{name: "pieces that come out even", piece: 4, feed: []string{"F0 7D 01 F7"}, want: []string{"F0 7D 01 F7"}, went: 4},
		{name: "real-time bytes inside", piece: 4, feed: []string{"F0 7D F8 01 FE F7"}, want: []string{"F8", "FE", "F0 7D 01 F7"}, went: 6},
		{name: "running status does not outlive SysEx", feed: []string{"90 3C 40 F0 7D F7 3C 41"}, want: []string{"90 3C 40", "F0 7D F7"}, went: 6},
		{name: "SysEx without its end", feed: []string{"F0 7D 01 90 3C 40"}, err: errCutShort},
		{name: "one in another", feed: []string{"F0 7D F0 7D F7"}, err: errCutShort},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var got []string
			c := cutter{piece: tc.piece}
			var went int
			var err error
			for _, b := range tc.feed {
				went, err = c.feed(unhex(t, b), func(m []byte) error {
					got = append(got, midi.Hex(m))
					return nil
				})
			}
			require.ErrorIs(t, err, tc.err)
			require.Equal(t, tc.want, got)
			require.Equal(t, tc.went, went)
		})
	}
}

func TestCutterSaysHowMuchWent(t *testing.T) {
	refused := errors.New("full")
	var given int
	c := cutter{piece: 4}
	went, err := c.feed(unhex(t, "C0 05 F0 7D 01 02 03 04 05 F7"), func([]byte) error {
		if given++; given == 3 {
			return refused
		}
		return nil
	})
	require.ErrorIs(t, err, refused)
	require.Equal(t, 6, went, "C0 05 and the first piece")
}

// However the bytes are cut, the pieces together are the messages, and none is
// longer than was asked for.
func FuzzCutter(f *testing.F) {
	for _, seed := range []string{"90 3C 40 3C 41", "F0 7D 01 02 03 F7 F8 C0 05", "F0 7D 01 90 3C", "F7 05 F4 F0 F7"} {
		f.Add(unhex(f, seed), uint8(4), uint8(2))
	}
	f.Fuzz(func(t *testing.T, sent []byte, piece, step uint8) {
		c := cutter{piece: int(piece%64) + 2}
		var got []byte
		for chunk := range slices.Chunk(sent, int(step)+1) {
			went, err := c.feed(chunk, func(m []byte) error {
				require.NotEmpty(t, m)
				require.LessOrEqual(t, len(m), max(3, c.piece))
				got = append(got, m...)
				return nil
			})
			require.LessOrEqual(t, went, len(chunk))
			if err != nil {
				require.ErrorIs(t, err, errCutShort)
				return
			}
		}
		require.Equal(t, messages(sent), messages(append(got, c.held...)))
	})
}

// messages frames a stream; real-time messages stand apart, for they may come
// anywhere.
func messages(b []byte) (all [][]byte) {
	var f midi.Framer
	var realTime []byte
	f.Feed(b, func(m midi.Frame) {
		if m.RealTime() {
			realTime = append(realTime, m.Bytes...)
			return
		}
		all = append(all, bytes.Clone(m.Bytes))
	})
	f.End(func(m midi.Frame) { all = append(all, bytes.Clone(m.Bytes)) })
	return append(all, realTime)
}
