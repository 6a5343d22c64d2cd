package profiles

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

func pushBytes(t testing.TB, d *Device, slot int, s Setting) []byte {
	t.Helper()
	steps, err := d.PushSteps(d.Manners.FirstUnit+3, slot, s)
	require.NoError(t, err)
	var all []byte
	for _, step := range steps {
		all = append(all, step.Send...)
	}
	return all
}

// What was sent says by itself what was sent: any setting, any slot.
func TestTheMessagesOfAPushTellTheSetting(t *testing.T) {
	random := rand.New(rand.NewPCG(31, 1))
	for _, name := range Names() {
		t.Run(name, func(t *testing.T) {
			d, err := Shipped(name)
			require.NoError(t, err)
			for range 50 {
				want := anySetting(random, d)
				slot := d.FirstSlot + random.IntN(d.LastSlot-d.FirstSlot+1)
				got, at, err := d.SettingOf(pushBytes(t, d, slot, want))
				require.NoError(t, err)
				require.Equal(t, want, got)
				require.Equal(t, slot, at)
			}
		})
	}
}

// anySetting has any codes that its device holds, the lines in a row.
func anySetting(random *rand.Rand, d *Device) Setting {
	for {
		s := d.Rest()
		for i, p := range d.Parameters {
			for ok := false; !ok; ok = p.Scale.Holds(s.Codes[i]) {
				s.Codes[i] = p.Scale.Low + random.IntN(p.Scale.High()-p.Scale.Low+1)
			}
		}
		for n, l := range d.Lines {
			if i := l.Parameter(RoleSource); i != None {
				s.Codes[i], _ = d.SourceCode(l, random.IntN(n+1)-1)
			}
		}
		if d.Check(s) == nil {
			return s
		}
	}
}

func TestMessagesThatAreNoPush(t *testing.T) {
	tapLoop, err := Shipped("tap-loop")
	require.NoError(t, err)
	twin, err := Shipped("twin")
	require.NoError(t, err)
	whole, pair := pushBytes(t, tapLoop, 9, tapLoop.Rest()), pushBytes(t, twin, 9, twin.Rest())
	slot := fiveLine(t).AppendSlot(nil, fiveLine(t).Rest())
	write, err := fiveLine(t).WriteSlotStep(0, 5, slot)
	require.NoError(t, err)
	hurt := append([]byte(nil), write.Send...)
	hurt[30] ^= 1
	for _, c := range []struct {
		name   string
		device *Device
		bytes  []byte
		want   string
	}{
		{"nothing", tapLoop, nil, "nothing is stored in a slot"},
		{"the store is missing", tapLoop, whole[:len(whole)-3], "nothing is stored in a slot"},
		{"a store alone", tapLoop, whole[len(whole)-3:], "nothing is said of tap-0-time"},
		{"a byte is missing", tapLoop, whole[:len(whole)-1], "belong to no message"},
		{"bytes before the first", tapLoop, append([]byte{1, 2}, whole...), "2 bytes belong to no message"},
		{"two pushes", tapLoop, append(append([]byte(nil), whole...), whole...), "go on after the setting is stored in slot 9"},
		{"a message cut short", tapLoop, append([]byte{0xF0, 0x7D}, whole...), "is cut short: F0 7D"},
		{"no preset selected", twin, pair[8:], "in the slot last selected, but none was"},
		{"another device's", twin, whole, "nothing is stored"},
		{"damaged", fiveLine(t), hurt, "checksum"},
		{"a memory that is no setting", fiveLine(t), nil, "nothing is stored"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, at, err := c.device.SettingOf(c.bytes)
			require.ErrorContains(t, err, c.want)
			require.Equal(t, None, at)
		})
	}
	load, err := tapLoop.LoadStep(4, 9)
	require.NoError(t, err)
	_, at, err := tapLoop.SettingOf(append(append([]byte(nil), whole...), load.Send...))
	require.NoError(t, err, "that it is made to sound afterwards changes no slot")
	require.Equal(t, 9, at)
}

func FuzzSettingOf(f *testing.F) {
	names := Names()
	for i, name := range names {
		d, err := Shipped(name)
		require.NoError(f, err)
		f.Add(i, pushBytes(f, d, d.FirstSlot, d.Rest()))
	}
	f.Add(0, []byte{0xB0, 0x77, 9})
	f.Fuzz(func(t *testing.T, which int, stream []byte) {
		d, err := Shipped(names[((which%len(names))+len(names))%len(names)])
		require.NoError(t, err)
		s, slot, err := d.SettingOf(stream)
		if err != nil {
			return
		}
		require.NoError(t, d.Check(s))
		require.NoError(t, d.CheckSlot(slot))
		again, at, err := d.SettingOf(pushBytes(t, d, slot, s))
		require.NoError(t, err, midi.Hex(stream))
		require.Equal(t, s, again)
		require.Equal(t, slot, at)
	})
}
