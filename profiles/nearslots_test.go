package profiles

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// In ASCII, '0' to '9' are 30h to 39h: one bit away from '5' are '4', '7' and '1',
// from '0' '1', '2', '4' and '8', from '1' '0', '3', '5' and '9'.
func TestSlotsThatAWrongBitLeadsTo(t *testing.T) {
	d := openParameter(t)
	for slot, near := range map[int][]int{
		5:  {1, 4, 7, 15},    // MEM05: MEM01, MEM04, MEM07 and, by the other digit, MEM15
		0:  {1, 2, 4, 8, 10}, // MEM00
		11: {1, 10, 13, 15},  // MEM11; there is no MEM19
		15: {5, 11, 14},      // MEM15; there is no MEM17
		8:  {0, 9},           // MEM08; there is no MEM18
	} {
		require.Equal(t, near, d.NearSlots(slot), "slot %d", slot)
	}
	five, err := Shipped("five-line")
	require.NoError(t, err)
	require.Empty(t, five.NearSlots(5), "the slot's number stands under the message's checksum")
}
