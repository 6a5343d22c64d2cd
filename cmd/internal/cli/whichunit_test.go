package cli

import (
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/profiles"
)

func shipped(t *testing.T, name string) *profiles.Device {
	t.Helper()
	d, err := profiles.Shipped(name)
	require.NoError(t, err)
	return d
}

func TestWhichUnitIsMeant(t *testing.T) {
	number := func(n int) *int { return &n }
	// five-line has unit numbers 0 to 15 and no channel of its own to tell it by,
	// open-parameter both, twin its channel alone (their manuals, profiles/*.md).
	for _, c := range []struct {
		name, device, flags string
		rig                 library.Rig
		unit, channel       int
		load                byte // the status of what loads a slot, 0 where that has no channel
		wrong               string
	}{
		{name: "nothing said: as from the factory", device: "five-line", unit: 0},
		{name: "a flag", device: "five-line", flags: "--unit 3", unit: 3},
		{name: "a rig", device: "five-line", rig: library.Rig{Unit: number(4)}, unit: 4},
		{name: "a flag before a rig", device: "five-line", flags: "--unit 3", rig: library.Rig{Unit: number(4)}, unit: 3},
		{name: "no such unit", device: "five-line", flags: "--unit 16", wrong: `unit number 16: device "five-line" can be set to 0 to 15`},

		{name: "the channel goes with the number", device: "open-parameter", flags: "--unit 2", unit: 2, load: 0xC2},
		{name: "a channel beside the number", device: "open-parameter", flags: "--unit 2 --channel 9", unit: 2, channel: 9, load: 0xC8},
		{name: "both from a rig", device: "open-parameter", rig: library.Rig{Unit: number(5), Channel: 16}, unit: 5, channel: 16, load: 0xCF},
		{name: "one from a rig, one a flag", device: "open-parameter", flags: "--channel 1", rig: library.Rig{Unit: number(5), Channel: 16}, unit: 5, channel: 1, load: 0xC0},
		{name: "channel 17", device: "open-parameter", flags: "--channel 17", wrong: `channel 17: device "open-parameter" can be set to 1 to 16`},
		{name: "channel 0", device: "open-parameter", flags: "--channel 0", wrong: `channel 0: device "open-parameter" can be set to 1 to 16`},

		{name: "found by its channel", device: "twin", flags: "--channel 16", unit: 16, load: 0xCF},
		{name: "its channel called its unit", device: "twin", flags: "--unit 16", unit: 16, load: 0xCF},
		{name: "its channel from a rig", device: "twin", rig: library.Rig{Channel: 7}, unit: 7, load: 0xC6},
		{name: "a rig that calls it unit", device: "twin", rig: library.Rig{Unit: number(7)}, unit: 7, load: 0xC6},
		{name: "a flag before the rig's channel", device: "twin", flags: "--unit 2", rig: library.Rig{Channel: 7}, unit: 2, load: 0xC1},
		{name: "from the factory on channel 1", device: "twin", unit: 1, load: 0xC0},
		{name: "two words for one thing", device: "twin", flags: "--unit 2 --channel 2", wrong: `device "twin" is found by its channel: leave --unit out`},
		{name: "a rig that contradicts itself", device: "twin", rig: library.Rig{Name: "floor", Unit: number(2), Channel: 3},
			wrong: `rig "floor": unit 2 and channel 3: device "twin" is found by its channel: leave unit out of the rig`},
		{name: "no such channel", device: "twin", flags: "--channel 17", wrong: `channel 17: device "twin" can be set to 1 to 16`},
	} {
		t.Run(c.name, func(t *testing.T) {
			var f unitFlags
			cmd := &cobra.Command{Use: "push"}
			f.add(cmd, "")
			require.NoError(t, cmd.ParseFlags(strings.Fields(c.flags)))
			a, err := f.find(cmd, shipped(t, c.device), c.rig)
			if c.wrong != "" {
				require.ErrorContains(t, err, c.wrong)
				return
			}
			require.NoError(t, err)
			require.Equal(t, []int{c.unit, c.channel}, []int{a.unit, a.channel})
			again, err := addressOf(shipped(t, c.device), a.unit, a.channel)
			require.NoError(t, err, "a snapshot or the journal leads to the same unit")
			for _, one := range []address{a, again} {
				step, err := one.device.LoadStep(one.unit, 3)
				require.NoError(t, err)
				if c.load != 0 {
					require.Contains(t, string(step.Send), string([]byte{c.load, 3}))
				}
			}
		})
	}
}

func TestAnAddressInWords(t *testing.T) {
	none := library.Rig{}
	require.Empty(t, addressWords(none))
	zero := 0
	require.Equal(t, ", unit 0", addressWords(library.Rig{Unit: &zero}))
	require.Equal(t, ", unit 0, channel 16", addressWords(library.Rig{Unit: &zero, Channel: 16}))
}
