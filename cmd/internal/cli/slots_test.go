package cli

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
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
	d := fiveLine(t)
	for _, c := range []struct {
		given []string
		want  []int
		says  string
	}{
		{nil, nil, ""}, // none named: all are meant
		{[]string{"--slots", "60-63"}, []int{60, 61, 62, 63}, ""},
		{[]string{"--slots", "60-64"}, nil, `slot 64: device "five-line" has slots 0 to 63`},
		{[]string{"--slots", ""}, nil, "is no slot and no range of slots"},
	} {
		cmd := newBackupCommand(&call{})
		require.NoError(t, cmd.ParseFlags(c.given))
		got, err := deviceSlots(d, cmd.Flags().Lookup("slots"))
		require.Equal(t, c.want, got)
		if c.says == "" {
			require.NoError(t, err)
			continue
		}
		require.ErrorContains(t, err, c.says)
		require.Equal(t, exitMisused, exitCode(err))
	}
}
