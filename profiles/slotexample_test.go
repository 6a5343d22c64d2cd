package profiles

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// By the manuals: five-line's load is F0 7D 05 dev 31 slot sum F7 with the sum of 31h
// and the slot made zero in 7 bits (31+00: 4F; 31+3F = 70h: 10), twin's is Bank Select
// and Program Change, its store CC 118 with value 127.
func TestMessagesAboutSlotsCanBeHeldAgainstTheManual(t *testing.T) {
	told := func(name string) map[string]string {
		d, err := Shipped(name)
		require.NoError(t, err)
		all := map[string]string{}
		for _, e := range d.SlotExamples(d.Manners.FirstUnit) {
			all[e.What] = e.Bytes
		}
		return all
	}
	five := told("five-line")
	require.Equal(t, "F0 7D 05 00 31 00 4F F7", five["load slot 0"])
	require.Equal(t, "F0 7D 05 00 31 3F 10 F7", five["load slot 63"])
	require.Contains(t, five, "store in slot 63")
	require.Contains(t, five, "ask for slot 0")
	twin := told("twin")
	require.Equal(t, "B0 00 00 B0 20 01 C0 63", twin["load slot 199"], "bank 1, program 99")
	require.Equal(t, "B0 76 7F", twin["store in slot 0"])
	require.NotContains(t, twin, "ask for slot 0", "it sends nothing")
	d, err := Parse("x.toml", []byte("format = \"echowright-device/1\"\nname = \"x\"\n[manners]\n[scale.time]\nunit = \"ms\"\ncodes = [0, 9]\n"+
		"linear = { code = 0, is = 0.0, step = 1.0 }\n[line]\nnames = [\"a\"]\n[[line.parameter]]\nrole = \"time\"\nscale = \"time\"\ncontrol = 20\n"))
	require.NoError(t, err)
	require.Empty(t, d.SlotExamples(1))
}
