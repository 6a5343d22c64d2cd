package emulator

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// FuzzFiveLine throws bytes at a five-line unit, in lumps with pauses that the bytes
// themselves choose. Whatever they are, it keeps within its memory, every slot
// stays sound, what it says is framed, and it then tells who it is.
func FuzzFiveLine(f *testing.F) {
	for _, s := range []string{
		setTime + load, askTime, "F0 7E 7F 06 01 F7", "F0 F0 F7 F7 90 33 FF", overwrite(5, memory{}),
		"F0 7D 05 00 22 05 " + threeHeads + " 00 F7 F0 7D 05 00 20 05 5B F7",
	} {
		f.Add(fromHex(f, s), byte(9))
		f.Add(fromHex(f, s), byte(200))
	}
	f.Fuzz(func(t *testing.T, bytes []byte, lump byte) {
		b := onBench(t, Options{})
		var said []byte
		for chunk := range slices.Chunk(bytes, 1+int(lump)) {
			b.Arrive(b.now, chunk)
			require.LessOrEqual(t, len(b.in.waiting), inputBuffer)
			b.now = b.now.Add(time.Duration(chunk[0]) * time.Millisecond)
			said = append(said, slices.Concat(b.Run(b.now)...)...)
			require.LessOrEqual(t, len(b.messages.body), maxMessage)
			require.LessOrEqual(t, len(b.out.waiting), maxAnswers)
		}
		said = append(said, fromHex(t, b.pass(2*time.Second))...)
		requireFramed(t, said)
		for slot := range fiveLineSlots {
			require.Equal(t, fine, b.slots[slot].wrong())
			require.True(t, b.slots[slot].sealed())
		}
		require.Equal(t, fine, b.edit.wrong())
		require.Equal(t, "F0 7E 00 06 02 7D 05 00 01 00 01 00 00 00 F7", b.ask("F0 7E 7F 06 01 F7"))
	})
}

// requireFramed: nothing but whole SysEx messages.
func requireFramed(t *testing.T, said []byte) {
	inside := false
	for _, b := range said {
		switch {
		case b == 0xF0 && !inside, b == 0xF7 && inside:
			inside = !inside
		default:
			require.True(t, inside && b < 0x80, "% X", said)
		}
	}
	require.False(t, inside)
}
