package cli

import (
	"bytes"
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/library/exchange"
	"echowright/profiles"
)

func TestWhichSlotsArePutBackWhere(t *testing.T) {
	snapshot := library.Snapshot{Name: "old", Slots: []library.SnapshotSlot{{Slot: 0}, {Slot: 3}, {Slot: 5}, {Slot: 99}}}
	for _, c := range []struct {
		args []string
		want []exchange.Placed
		says string
	}{
		{nil, []exchange.Placed{{From: 0, To: 0}, {From: 3, To: 3}, {From: 5, To: 5}, {From: 99, To: 99}}, ""}, // whether all fit is not asked here
		{[]string{"--slot", "5"}, []exchange.Placed{{From: 5, To: 5}}, ""},
		{[]string{"--slot", "0"}, []exchange.Placed{{From: 0, To: 0}}, ""},
		{[]string{"--slot", "5", "--to", "0"}, []exchange.Placed{{From: 5, To: 0}}, ""},
		{[]string{"--slots", "3,5"}, []exchange.Placed{{From: 3, To: 3}, {From: 5, To: 5}}, ""},
		{[]string{"--slots", "9-3"}, nil, "runs backwards"},
		{[]string{"--slots", ""}, nil, "is no slot and no range of slots"}, // never all of them
		{[]string{"--slot", "3", "--slots", "5"}, nil, "give one of them"},
		{[]string{"--to", "3"}, nil, "--to needs --slot"},
		{[]string{"--slot", "4"}, nil, `snapshot "old" does not hold slot 4: it holds slots 0, 3, 5, 99`},
		{[]string{"--slots", "3-5"}, nil, `snapshot "old" does not hold slot 4`},
		{[]string{"--slot", "3", "--to", "64"}, nil, `slot 64: device "five-line" has slots 0 to 63`},
		{[]string{"--slot", "99"}, nil, `slot 99: device "five-line" has slots 0 to 63`},
	} {
		t.Run(fmt.Sprint(c.args), func(t *testing.T) {
			cmd := newRestoreCommand(&call{})
			require.NoError(t, cmd.ParseFlags(c.args))
			var o restoreOptions
			o.slot, _ = cmd.Flags().GetInt("slot")
			o.to, _ = cmd.Flags().GetInt("to")
			o.slots, _ = cmd.Flags().GetString("slots")
			got, err := o.places(cmd, snapshot, fiveLine(t))
			if c.says != "" {
				require.ErrorContains(t, err, c.says)
				require.Equal(t, exitMisused, exitCode(err))
				return
			}
			require.NoError(t, err)
			require.Equal(t, c.want, got)
		})
	}
}

func TestAChangeInAFewWords(t *testing.T) {
	d := []profiles.Difference{
		{Parameter: "a-time", Was: 121.0, Is: 144.3, Unit: "ms"}, {Parameter: "a-level", Was: "silent", Is: -3.0},
		{Parameter: "name", Was: "x", Is: "y"}, {Parameter: "drive", Was: 0.0, Is: 1.0},
	}
	require.Equal(t, "a-time 121 in place of 144.3, a-level silent in place of -3", differenceWords(exchange.Change{Differences: d[:2]}))
	require.Equal(t, "a-time 121 in place of 144.3, a-level silent in place of -3, name x in place of y, and 1 more", differenceWords(exchange.Change{Differences: d}))
	require.Equal(t, "bytes that mean no parameter", differenceWords(exchange.Change{}))
}

func TestDifferencesAsATable(t *testing.T) {
	var out bytes.Buffer
	c := &call{out: ui.Plain(&out)}
	c.showDifferences("wanted", "holds", nil)
	require.Empty(t, out.String())
	c.showDifferences("wanted", "holds", []profiles.Difference{{Parameter: "a-time", Was: 121.0, Is: "silent", Unit: "ms"}})
	require.Equal(t, "parameter  wanted   holds  unit\na-time        121  silent  ms\n", out.String())
}

func TestWhatARestoreWouldChange(t *testing.T) {
	setting := profiles.Setting{Codes: []int{1}}
	one := []profiles.Difference{{Parameter: "a-time", Was: 121.0, Is: 144.3}}
	for _, c := range []struct {
		change   exchange.Change
		readable bool
		want     string
	}{
		{exchange.Change{Memory: []byte{1}, Setting: setting, Differences: one}, true, "slot 5 holds something else: a-time 121 in place of 144.3"},
		{exchange.Change{Memory: []byte{1}, Setting: setting}, true, "slot 5 holds something else: bytes that mean no parameter"},
		{exchange.Change{Memory: []byte{1}}, true, "slot 5 holds something else; what it gets is no setting, but the bytes that were kept"},
		{exchange.Change{Memory: []byte{1}, Setting: setting, Now: exchange.Slot{Fault: errors.New("its sum is wrong")}}, true, "slot 5 holds no setting: its sum is wrong"},
		{exchange.Change{Memory: []byte{1}, Setting: setting, Now: exchange.Slot{Memory: []byte{1}}}, true, "slot 5 holds it already, and is written all the same"},
		{exchange.Change{Setting: setting}, false, "slot 5: what it holds cannot be read; what was sent to it is sent again"},
	} {
		c.change.To = 5
		require.Equal(t, c.want, changeWords(c.change, c.readable))
	}
}
