package profiles

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// oneLine is a device of one line whose time has the codes 0 to high, and is set
// as the keys say.
func oneLine(tables, keys, high string) string {
	return `format = "echowright-device/1"
name = "one"
[manners]
channels = [1, 16]
` + tables + `
[scale.time]
unit = "ms"
codes = [0, ` + high + `]
linear = { code = 0, is = 0.0, step = 1.0 }
[line]
names = ["a"]
[[line.parameter]]
role = "time"
scale = "time"
` + keys
}

// Sources of the bytes: M1 (controllers, table III; pairs, page 12; parameter
// numbers, pages 17 and 50), CA-024; 1000 = 7·128 + 104 → 07 68.
func TestWaysToSetAParameter(t *testing.T) {
	for _, c := range []struct {
		name, tables, keys, high string
		code                     int
		want                     string
		says                     string
	}{
		{"a controller", "", "control = 16", "127", 100, "B4 10 64", "CC 16"},
		{"a pair of them, high byte first", "", "control = [12, 44]", "16383", 1000, "B4 0C 07 B4 2C 68", "CC 12, 44"},
		{"low byte first", "[control]\norder = \"low-first\"", "control = [12, 44]", "16383", 1000, "B4 2C 68 B4 0C 07", "CC 12, 44"},
		{"the largest of 14 bits", "", "control = [12, 44]", "16383", 16383, "B4 0C 7F B4 2C 7F", "CC 12, 44"},
		{"an NRPN", "", `nrpn = "01 08"`, "16383", 1000, "B4 63 01 B4 62 08 B4 06 07 B4 26 68", "NRPN 01 08"},
		{"an NRPN under running status, and none chosen afterwards", "running_status = true\n[nrpn]\nnull = true", `nrpn = "01 08"`, "16383", 1000,
			"B4 63 01 62 08 06 07 26 68 65 7F 64 7F", "NRPN 01 08"},
		{"an NRPN of 7 bits", "[nrpn]\nvalue = 7", `nrpn = "01 08"`, "127", 5, "B4 63 01 B4 62 08 B4 06 05", "NRPN 01 08"},
		{"an NRPN whose value comes low byte first", "[nrpn]\nvalue_order = \"low-first\"", `nrpn = "01 08"`, "16383", 1000, "B4 63 01 B4 62 08 B4 26 68 B4 06 07", "NRPN 01 08"},
		// page 50: coarse order of an RPN, low byte of the number first
		{"an RPN as in the standard's example", "running_status = true\n[rpn]\norder = \"low-first\"\nvalue = 7", `rpn = "00 03"`, "127", 9, "B4 64 03 65 00 06 09", "RPN 00 03"},
		{"an RPN, high byte first", "", `rpn = "00 03"`, "16383", 1000, "B4 65 00 B4 64 03 B4 06 07 B4 26 68", "RPN 00 03"},
		{"Global Parameter Control, value low byte first", "[gpc]\nvalue_bytes = 2", `gpc = { slot = "01 47 02 03", parameter = "04" }`, "16383", 1000,
			"F0 7F 05 04 05 02 01 02 01 47 02 03 04 68 07 F7", "GPC 01 47 02 03 : 04"},
		{"Global Parameter Control without a slot path", "", `gpc = { slot = "", parameter = "01 02" }`, "127", 7, "F0 7F 05 04 05 00 02 01 01 02 07 F7", "GPC : 01 02"},
		// codes 0 to 100 are −50 to 50: −20 in 7 bits is 128 − 20 = 108 = 6Ch
		{"two's complement", "", `send = "B{channel} 14 {value-50:7x1s}"`, "100", 30, "B4 14 6C", "a message of its own"},
		{"a message of its own", "", `send = "B{channel} 14 {value/100} B{channel} 15 {value%100}"`, "9999", 1234, "B4 14 0C B4 15 22", "a message of its own"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := parsed(t, oneLine(c.tables, c.keys, c.high))
			require.Equal(t, c.says, d.Way(0))
			s, err := d.SetStep(5, 0, c.code) // channel 5 is 4 on the wire
			require.NoError(t, err)
			require.Equal(t, c.want, midi.Hex(s.Send))
			require.Empty(t, s.Answers)
			require.NoError(t, s.Check())
			told := decodeAll(d.Decoder(5), s.Send)
			require.Equal(t, Told{Kind: ToldSet, Parameter: 0, Code: c.code, Slot: None}, told[len(told)-1])
			require.Empty(t, decodeAll(d.Decoder(6), s.Send), "another channel or unit")
		})
	}
}

func decodeAll(d *Decoder, stream []byte) []Told {
	var all []Told
	var f midi.Framer
	f.Feed(stream, func(m midi.Frame) { all = append(all, d.Feed(m.Bytes)...) })
	return all
}

// Worked by hand in the *.md beside the profiles.
func TestMessagesOfTheShippedDevices(t *testing.T) {
	for _, c := range []struct {
		device, parameter string
		unit, code        int
		want              string
	}{
		{"tap-loop", "tap-3-time", 2, 2000, "B1 63 01 62 03 06 0F 26 50"},
		{"tap-loop", "tap-7-level", 1, 127, "B0 17 7F"},     // CC 16 + 7 = 23
		{"tap-loop", "tap-7-polarity", 16, 127, "BF 6D 7F"}, // CC 102 + 7 = 109
		{"tap-loop", "feedback", 1, 115, "B0 55 73"},        // CC 85
		{"tap-loop", "feedback-tap", 1, 7, "B0 56 07"},      // CC 86
		{"twin", "line-2-time", 1, 4096, "B0 0D 20 B0 2D 00"},
		{"twin", "line-1-time", 1, 16383, "B0 0C 7F B0 2C 7F"},
		{"twin", "line-2-clocked-time", 3, 11, "B2 0F 0B"}, // CC 15
		{"open-parameter", "tap-2-time", 5, 2500, "F0 7F 05 04 05 01 01 02 02 02 00 44 13 F7"},
		{"open-parameter", "feedback", 5, 1000, "F0 7F 05 04 05 01 01 02 02 00 00 68 07 F7"},
	} {
		t.Run(c.device+" "+c.parameter, func(t *testing.T) {
			d, err := Shipped(c.device)
			require.NoError(t, err)
			s, err := d.SetStep(c.unit, d.Parameter(c.parameter), c.code)
			require.NoError(t, err)
			require.Equal(t, c.want, midi.Hex(s.Send))
		})
	}
}

func TestSlotsAreSelectedAndStored(t *testing.T) {
	for _, c := range []struct {
		device, what string
		slot         int
		want         string
		gap          time.Duration
	}{
		{"tap-loop", "load", 127, "C0 7F", time.Millisecond},
		{"tap-loop", "store", 5, "B0 77 05", 501 * time.Millisecond}, // CC 119; the write and the gap
		// Bank Select is CC 0, then CC 32, then Program Change (M1 page 13); slot 157
		// is preset 57 of bank 1.
		{"twin", "load", 157, "B0 00 00 B0 20 01 C0 39", 2 * time.Millisecond},
		{"twin", "load", 0, "B0 00 00 B0 20 00 C0 00", 2 * time.Millisecond},
		{"twin", "store", 157, "B0 76 7F", 202 * time.Millisecond}, // CC 118
		{"open-parameter", "load", 15, "C0 0F", 0},
	} {
		t.Run(c.device+" "+c.what, func(t *testing.T) {
			d, err := Shipped(c.device)
			require.NoError(t, err)
			unit := d.Manners.FirstUnit
			s, err := d.LoadStep(unit, c.slot)
			if c.what == "store" {
				s, err = d.StoreStep(unit, c.slot)
			}
			require.NoError(t, err)
			require.Equal(t, c.want, midi.Hex(s.Send))
			require.Equal(t, c.gap, s.Gap, "the silence that it needs, since it says nothing when it is ready")
			require.Empty(t, s.Answers)
		})
	}
}

// The bank 7F 7F is 16384 (M1 page 14); the three forms of Bank Select.
func TestBanks(t *testing.T) {
	for _, c := range []struct {
		name, slots, load string
		slot              int
		want              string
	}{
		{"high byte alone", "[1, 300]", "program = 100\nbank = \"high\"", 300, "B0 00 02 C0 63"},
		{"low byte alone", "[1, 300]", "program = 128\nbank = \"low\"", 129, "B0 20 01 C0 00"},
		{"banks that begin later", "[0, 199]", "program = 100\nbank = \"both\"\nfirst_bank = 129", 101, "B0 00 01 B0 20 02 C0 01"}, // bank 130 = 1·128 + 2
		{"slots counted from 1", "[1, 128]", "program = 128", 1, "C0 00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := parsed(t, oneLine("[memory]\nslots = "+c.slots+"\n[message.load]\n"+c.load, "control = 16", "127"))
			s, err := d.LoadStep(1, c.slot)
			require.NoError(t, err)
			require.Equal(t, c.want, midi.Hex(s.Send))
			told := decodeAll(d.Decoder(1), s.Send)
			require.Equal(t, []Told{{Kind: ToldLoad, Parameter: None, Slot: c.slot}}, told)
		})
	}
}

func TestAUnitWhoseChannelIsSetApart(t *testing.T) {
	d, err := Shipped("open-parameter")
	require.NoError(t, err)
	there, err := d.OnChannel(16)
	require.NoError(t, err)
	s, err := there.LoadStep(2, 3)
	require.NoError(t, err)
	require.Equal(t, "CF 03", midi.Hex(s.Send))
	s, err = d.LoadStep(2, 3)
	require.NoError(t, err)
	require.Equal(t, "C2 03", midi.Hex(s.Send), "else unit 2, the third, goes with the third channel")
	_, err = d.OnChannel(17)
	require.ErrorContains(t, err, "1 to 16")
	tap, err := Shipped("tap-loop")
	require.NoError(t, err)
	require.ErrorContains(t, tap.CheckUnit(0), "channel 0")
}

// Pairs of one slot share a message, three at most (CA-024 allows several).
func TestParametersShareAMessage(t *testing.T) {
	d, err := Shipped("open-parameter")
	require.NoError(t, err)
	s := setting(t, d, map[string]int{"tap-2-time": 2500, "tap-2-level": 823, "tap-2-polarity": 1})
	steps, err := d.SettingSteps(5, s)
	require.NoError(t, err)
	var all []string
	for _, step := range steps {
		all = append(all, midi.Hex(step.Send))
	}
	text := strings.Join(all, "\n")
	require.Contains(t, text, "F0 7F 05 04 05 01 01 02 02 02 00 44 13 02 01 00 F7", "time and polarity of tap 2")
	require.Less(t, len(steps), len(d.Parameters))
	require.Equal(t, "F0 7F 05 04 05 01 01 02 02 00 00 00 00 F7", all[0], "the loop gain goes down first")
}

func TestProfilesOfWaysThatCannotBe(t *testing.T) {
	for _, c := range []struct{ name, tables, keys, high, want string }{
		{"too many codes for a controller", "", "control = 16", "128", "one.toml:15: [[line.parameter]] 1: control: code 128 of scale \"time\" cannot be sent: value 128: its place in the message holds 0 to 127"},
		{"a channel mode message", "", "control = 120", "127", "channel mode"},
		{"three controllers", "", "control = [1, 2, 3]", "127", "one controller, or two"},
		{"a controller as text", "", "control = \"16\"", "127", "write a controller's number"},
		{"two ways", "", "control = 16\nnrpn = \"01 00\"", "127", "control and nrpn: give one"},
		{"a parameter number of three bytes", "", `nrpn = "01 00 00"`, "127", "two bytes in hex"},
		{"the parameter number that means none", "", `nrpn = "7F 7F"`, "127", "to 7F 7E"},
		{"half a slot path", "", `gpc = { slot = "01", parameter = "00" }`, "127", "two bytes an entry"},
		{"no parameter", "", `gpc = { slot = "01 01", parameter = "" }`, "127", "1 to 4 bytes"},
		{"part of a value", "", `send = "B{channel} 10 {value%128}"`, "1000", "is lost"},
		{"no value", "", `send = "B{channel} 10 05"`, "127", "has no {value}"},
		{"an order unknown", "[control]\norder = \"first\"", "control = [1, 33]", "127", "high-first or low-first"},
		{"a parameter on the store's controller", "[memory]\nslots = [0, 9]\n[message.store]\ncontrol = 16", "control = 16", "127", "controller 16 belongs to [message.load] or [message.store] and to a-time"},
		{"channels beyond 16", "", "control = 16", "127", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := oneLine(c.tables, c.keys, c.high)
			if c.want == "" {
				text, c.want = strings.Replace(text, "[1, 16]", "[1, 17]", 1), "[1 17]: give the first and the last"
			}
			_, err := Parse("one.toml", []byte(text))
			require.ErrorContains(t, err, c.want)
		})
	}
}
