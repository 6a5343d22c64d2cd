package profiles

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// setting changes some parameters of a device at rest.
func setting(t testing.TB, d *Device, codes map[string]int) Setting {
	t.Helper()
	s := d.Rest()
	for name, code := range codes {
		i := d.Parameter(name)
		require.NotEqual(t, None, i, name)
		s.Codes[i] = code
	}
	return s
}

// Byte by byte as five-line.md lays a slot out.
func TestSlotLayout(t *testing.T) {
	d := fiveLine(t)
	s := setting(t, d, map[string]int{
		"a-time": 1210, "a-level": 107, // 1210 = 04BAh, 107 = 6Bh
		"c-time": 4050, "c-level": 117, "c-feedback": 58, "c-polarity": 1, // 0FD2h, 75h, 3Ah
		"e-source": 3, "e-high-cut": 15, "e-low-cut": 12,
		"dry-level": 121, "drive": 40, "wobble-rate": 300, "wobble-depth": 15, // 79h, 28h, 012Ch, 0Fh
	})
	s.Name = "slack tide"
	m := d.AppendSlot(nil, s)
	require.Len(t, m, 96)
	for _, c := range []struct {
		what string
		at   int
		want string
	}{
		{"line a", 0, "BA 04 6B 00 00 00 1F 00 00 00 00 00"},
		{"line b at rest", 12, "00 00 00 00 00 00 1F 00 00 00 00 00"},
		{"line c", 24, "D2 0F 75 3A 01 00 1F 00 00 00 00 00"},
		{"line e", 48, "00 00 00 00 00 03 0F 0C 00 00 00 00"},
		{"shared", 60, "79 28 2C 01 0F 00 00 00"},
		{"name", 68, "73 6C 61 63 6B 20 74 69 64 65 20 20"},
		{"zeros", 80, "00 00 00 00 00 00 00 00 00 00 00 00 00 00"},
	} {
		want, err := midi.ParseHex(c.want)
		require.NoError(t, err)
		require.Equal(t, c.want, midi.Hex(m[c.at:c.at+len(want)]), c.what)
	}
	// A CRC with its check behind it, high byte first, comes out as 0.
	require.Zero(t, midi.CCITTFalse().Sum(m))

	step, err := d.WriteSlotStep(0, 0, m)
	require.NoError(t, err)
	// BA 04 6B 00 00 00 1F: only the first byte has its top bit, so the head byte
	// is 40h and BAh becomes 3Ah.
	require.Equal(t, "F0 7D 05 00 22 00 40 3A 04 6B 00 00 00 1F", midi.Hex(step.Send[:14]))
}

func TestRandomSettingsComeBack(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, name := range Names() {
		d, err := Shipped(name)
		require.NoError(t, err)
		if d.memory.bytes == 0 {
			_, err := d.SlotSetting(nil)
			require.ErrorIs(t, err, ErrCannot, name)
			continue
		}
		for range 500 {
			s := d.Rest()
			for i, p := range d.Parameters {
				s.Codes[i] = p.Scale.Low + random.IntN(p.Scale.High()-p.Scale.Low+1)
			}
			s.Name = "neap"[:random.IntN(min(4, d.NameLength)+1)]
			if d.Check(s) != nil {
				continue // codes that do not go together
			}
			got, err := d.SlotSetting(d.AppendSlot(nil, s))
			require.NoError(t, err)
			require.Equal(t, s, got)
		}
	}
}

func TestEveryFlippedBitOfASlotIsSeen(t *testing.T) {
	d := fiveLine(t)
	m := d.AppendSlot(nil, d.Rest())
	for bit := range 8 * len(m) {
		broken := append([]byte(nil), m...)
		broken[bit/8] ^= 1 << (bit % 8)
		_, err := d.SlotSetting(broken)
		require.ErrorIs(t, err, ErrDamaged, "bit %d", bit)
	}
}

func TestSlotsThatHoldNoSetting(t *testing.T) {
	d := fiveLine(t)
	bad := func(change func(m []byte)) error {
		m := d.AppendSlot(nil, d.Rest())
		change(m)
		d.memory.check.put(m)
		_, err := d.SlotSetting(m)
		return err
	}
	require.ErrorContains(t, bad(func(m []byte) { m[2] = 122 }), "a-level: code 122")
	require.ErrorContains(t, bad(func(m []byte) { m[1] = 0xFF }), "a-time")
	require.ErrorContains(t, bad(func(m []byte) { m[68] = 7 }), "printable ASCII")
	require.NoError(t, bad(func(m []byte) { m[90] = 1 }), "bytes that the profile does not describe are not ours to judge")
	_, err := d.SlotSetting(nil)
	require.ErrorContains(t, err, "0 bytes")
}

func TestFieldsOfAnyForm(t *testing.T) {
	for _, c := range []struct {
		name  string
		field field
		code  int
		want  string
	}{
		{"a byte", field{at: 1, bytes: 1}, 0xAB, "00 AB 00 00"},
		{"high byte first", field{at: 1, bytes: 2}, 0x1234, "00 12 34 00"},
		{"low byte first", field{at: 1, bytes: 2, low: true}, 0x1234, "00 34 12 00"},
		{"three bytes", field{at: 1, bytes: 3}, 0x010203, "00 01 02 03"},
		{"bits 3 to 5", field{at: 2, bytes: 1, shift: 3, bits: 3}, 5, "00 00 28 00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := make([]byte, 4)
			c.field.put(m, c.code)
			require.Equal(t, c.want, midi.Hex(m))
			require.Equal(t, c.code, c.field.get(m))
		})
	}
}

func FuzzSlotSetting(f *testing.F) {
	d := fiveLine(f)
	f.Add(d.AppendSlot(nil, d.Rest()))
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, m []byte) {
		s, err := d.SlotSetting(m)
		if err != nil {
			return
		}
		require.NoError(t, d.Check(s))
		again, err := d.SlotSetting(d.AppendSlot(nil, s))
		require.NoError(t, err)
		require.Equal(t, s, again)
	})
}

func BenchmarkAppendSlot(b *testing.B) {
	d := fiveLine(b)
	s := d.Rest()
	dst := make([]byte, 0, 96)
	b.ReportAllocs()
	for b.Loop() {
		dst = d.AppendSlot(dst[:0], s)
	}
}

func BenchmarkLoadProfile(b *testing.B) {
	for b.Loop() {
		if _, err := Shipped("five-line"); err != nil {
			b.Fatal(err)
		}
	}
}
