package library

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSlotsInWords(t *testing.T) {
	for _, c := range []struct {
		numbers []int
		want    string
	}{
		{nil, "no slot"},
		{[]int{7}, "slot 7"},
		{[]int{4, 5}, "slots 4, 5"},
		{[]int{4, 5, 6}, "slots 4-6"},
		{[]int{0, 1, 3, 4, 5, 6, 9}, "slots 0, 1, 3-6, 9"},
		{[]int{4, 9, 6, 7, 8}, "slots 4, 9, 6-8"},
		{[]int{6, 5, 4}, "slots 6, 5, 4"},
		{[]int{2, 2, 3, 4}, "slots 2, 2-4"},
	} {
		require.Equal(t, c.want, SlotWords(c.numbers))
	}
}
