package emulator

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestFactorySlotsAreSound(t *testing.T) {
	b := onBench(t, Options{})
	names := map[string]bool{}
	for slot := range fiveLineSlots {
		raw, err := b.Memory(slot)
		require.NoError(t, err)
		m := memory(raw)
		require.Equal(t, fine, m.wrong(), "slot %d", slot)
		// A message followed by its CRC, high byte first, has CRC 0.
		require.Zero(t, crc16(raw), "slot %d", slot)
		names[string(raw[68:80])] = true

		echoes := b.echoes(slot)
		require.NotEmpty(t, echoes, "slot %d is heard", slot)
		require.Less(t, float64(echoes[len(echoes)-1].At), 4000.1, "slot %d", slot)
	}
	require.Len(t, names, fiveLineSlots, "each has a name of its own")
	require.True(t, names["Orlanby     "], "slot 0, padded with spaces")
}

func TestPowerUp(t *testing.T) {
	b := onBench(t, Options{})
	slot, err := b.Memory(0)
	require.NoError(t, err)
	edit, err := b.Memory(EditBuffer)
	require.NoError(t, err)
	require.Equal(t, slot, edit, "the edit buffer is a copy of slot 0")

	again := onBench(t, Options{})
	require.Equal(t, b.slots, again.slots, "two units leave the maker alike")

	edit[0] ^= 1
	unchanged, err := b.Memory(EditBuffer)
	require.NoError(t, err)
	require.Equal(t, slot, unchanged, "what is handed out is a copy")
}
