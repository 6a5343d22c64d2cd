package cli

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/profiles"
)

func TestListsOfSlots(t *testing.T) {
	for _, c := range []struct {
		text string
		want []int
		says string // of the error, "" for none
	}{
		{"5", []int{5}, ""},
		{"0-3", []int{0, 1, 2, 3}, ""},
		{"0-1, 12,7", []int{0, 1, 12, 7}, ""},
		{"", nil, "is no slot and no range of slots; write 0-63, 5, or 0-7,12"},
		{"a", nil, `"a" is no slot`},
		{"5-", nil, "is no slot"},
		{"-5", nil, "is no slot"},
		{"1-2-3", nil, "is no slot"},
		{"5-1", nil, "runs backwards"},
		{"1,0-3", nil, "slot 1 stands twice"},
		{"0-99999999", nil, "more slots than any device has"},
		{"99999999999999999999", nil, "is no slot"},
	} {
		got, err := parseSlots(c.text)
		if c.says == "" {
			require.NoError(t, err, c.text)
			require.Equal(t, c.want, got)
			continue
		}
		require.ErrorContains(t, err, c.says, c.text)
	}
}

func FuzzParseSlots(f *testing.F) {
	f.Add("0-63")
	f.Add("1,2-3,9-4")
	f.Fuzz(func(t *testing.T, text string) {
		got, err := parseSlots(text)
		if err != nil {
			return
		}
		slices.Sort(got)
		if len(got) == 0 || got[0] < 0 || len(slices.Compact(got)) != len(got) {
			t.Fatalf("%q gave %v", text, got)
		}
	})
}

func TestSlotsThatTheDeviceMustHave(t *testing.T) {
	d, err := profiles.Shipped("five-line")
	require.NoError(t, err)
	got, err := deviceSlots(d, "")
	require.NoError(t, err)
	require.Nil(t, got, "none named: all are meant")
	_, err = deviceSlots(d, "60-64")
	require.ErrorContains(t, err, "slot 64: device \"five-line\" has slots 0 to 63")
	require.Equal(t, exitMisused, exitCode(err))
}
