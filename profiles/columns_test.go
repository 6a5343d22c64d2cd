package profiles

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// columns is a device whose dump stands in columns: three times of two bytes, low
// byte first, then three levels, then one byte with a polarity bit for each tap.
const columns = `
format = "echowright-device/1"
name = "columns"
[manners]
units = [0, 7]
[checksum]
kind = "xor"
[message.set]
send = "F0 7D 33 0{unit} (41 {address} {value:4x4}) {sum} F7"
[message.ask_slot]
send = "F0 7D 33 0{unit} (52 {slot}) {sum} F7"
reply = "F0 7D 33 0{unit} (53 {slot} {dump}) {sum} F7"
[message.write_slot]
send = "F0 7D 33 0{unit} (53 {slot} {dump}) {sum} F7"
[message.store]
send = "F0 7D 33 0{unit} (54 {slot}) {sum} F7"
[scale.time]
unit = "samples"
sample_rate_hz = 32000
codes = [0, 38400]
linear = { code = 0, is = 0.0, step = 1.0 }
[scale.level]
unit = "dB"
codes = [0, 31]
silent = 31
linear = { code = 0, is = 0.0, step = -2.0 }
[scale.polarity]
choices = ["normal", "inverted"]
[scale.mix]
unit = "dB"
codes = [0, 100]
silent = 0
amplitude = { full = 100 }
[line]
names = ["memory"]
[tap]
names = ["tap-1", "tap-2", "tap-3"]
address_step = 1
[[tap.parameter]]
role = "time"
scale = "time"
address = 1
memory = { at = 0, bytes = 2, low_first = true }
memory_step = 2
[[tap.parameter]]
role = "level"
scale = "level"
rest = 31
address = 4
memory = { at = 6 }
memory_step = 1
[[tap.parameter]]
role = "polarity"
scale = "polarity"
address = 7
memory = { at = 9, bits = 1 }
bit_step = 1
[[parameter]]
name = "mix"
role = "mix"
scale = "mix"
address = 12
memory = { at = 10 }
[memory]
slots = [0, 49]
bytes = 11
packing = "nibbles-low-first"
`

func TestADumpInColumns(t *testing.T) {
	d, err := Parse("columns.toml", []byte(columns))
	require.NoError(t, err)
	s := d.Rest()
	for name, code := range map[string]int{
		"tap-1-time": 3872, "tap-2-time": 8416, "tap-3-time": 12960, // 121, 263 and 405 ms at 32 kHz
		"tap-1-level": 4, "tap-2-level": 0, "tap-3-level": 1,
		"tap-2-polarity": 1, "tap-3-polarity": 1,
	} {
		s.Codes[d.Parameter(name)] = code
	}
	// 3872 = 0F20h, 8416 = 20E0h, 12960 = 32A0h, low bytes first; then the levels; bits 1
	// and 2 for the taps that are inverted; the mix at rest is 100 = 64h, all of it.
	want := []byte{0x20, 0x0F, 0xE0, 0x20, 0xA0, 0x32, 4, 0, 1, 0x06, 0x64}
	memory := d.AppendSlot(nil, s)
	require.Equal(t, want, memory)
	back, err := d.SlotSetting(memory)
	require.NoError(t, err)
	require.Equal(t, s.Codes, back.Codes)
	require.True(t, d.WritesSlots())
}

// A parameter without a place would be written as 0, which may be full level: such
// a slot is filled message by message and then stored.
func TestASlotThatIsHalfDescribedIsNotWrittenWhole(t *testing.T) {
	half := strings.Replace(columns, "memory = { at = 6 }\nmemory_step = 1\n", "", 1)
	d, err := Parse("columns.toml", []byte(half))
	require.NoError(t, err)
	require.False(t, d.WritesSlots())
	steps, err := d.PushSteps(0, 3, d.Rest())
	require.NoError(t, err)
	require.Equal(t, []byte{0xF0, 0x7D, 0x33, 0x00, 0x54, 0x03, 0x57, 0xF7}, steps[len(steps)-1].Send, "54h XOR 03h is 57h")
	for _, step := range steps {
		require.NotEqual(t, byte(0x53), step.Send[4], "no dump")
	}
}
