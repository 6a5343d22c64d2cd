package midi

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Statuses and sub-numbers are those of M1 tables I, III, V, VI, VII; the identity
// reply is worked from the fields of M1 page 40, global parameter control from
// CA-024 page 3.
func TestMessagesAreDescribedInWords(t *testing.T) {
	for hex, want := range map[string]string{
		"90 3C 40":          "note on, key 60, velocity 64, channel 1",
		"8F 3C 00":          "note off, key 60, channel 16",
		"A0 3C 05":          "pressure on key 60 = 5, channel 1",
		"B2 10 40":          "control change 16 = 64, channel 3",
		"B0 63 01":          "control change 99 (NRPN, high half) = 1, channel 1",
		"B0 78 00":          "control change 120 (all sound off) = 0, channel 1",
		"C0 05":             "program change 5, channel 1",
		"D0 07":             "channel pressure 7, channel 1",
		"E0 00 40":          "pitch bend 8192, channel 1",
		"F8":                "clock",
		"F2 00 01":          "song position 128",
		"F5":                "undefined: F5",
		"F0 7E 7F 06 01 F7": "identity request, unit 127, 6 bytes",
		"F0 7E 01 06 02 7D 01 00 02 00 01 00 00 00 F7":    "identity reply: ",
		"F0 7E 00 7F 03 F7":                               "acknowledged, unit 0, 6 bytes",
		"F0 7F 00 04 05 02 01 02 01 47 02 03 04 10 20 F7": "global parameter control, unit 0, 16 bytes",
		"F0 7D 05 00 10 F7":                               "System Exclusive of manufacturer 7D, 6 bytes",
		"F0 00 20 33 01 F7":                               "System Exclusive of manufacturer 00 20 33, 6 bytes",
		"F0 7D 05":                                        "System Exclusive that was broken off after 3 bytes",
		"B0 10":                                           "half a message: B0 10",
		"10 20":                                           "data without a status: 10 20",
	} {
		message, err := ParseHex(hex)
		require.NoError(t, err)
		require.Contains(t, Describe(message), want, hex)
	}
	require.Equal(t, "nothing", Describe(nil))
}

func FuzzDescribe(f *testing.F) {
	f.Add([]byte{0xF0, 0x7E, 0x7F, 0x06, 0x01, 0xF7})
	f.Fuzz(func(t *testing.T, b []byte) { require.NotEmpty(t, Describe(b)) })
}
