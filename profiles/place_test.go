package profiles

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// Bytes worked by hand: 1000 = 7·128 + 104 → 07 68; 8192 → 40 00; 16383 → 7F 7F
// (M1 table II, values of 14 bits); the rest beside the case.
func TestPlaces(t *testing.T) {
	for _, c := range []struct {
		name   string
		place  string
		fields fields
		want   string
	}{
		{"one byte", "{value}", fields{value: 100}, "64"},
		{"two bytes, high bits first", "{value:7x2}", fields{value: 1000}, "07 68"},
		{"two bytes, low bits first", "{value:7x2<}", fields{value: 1000}, "68 07"},
		// 100000 = 6·16384 + 13·128 + 32
		{"three bytes", "{value:7x3}", fields{value: 100000}, "06 0D 20"},
		{"nibbles", "{value:4x2}", fields{value: 0xA5}, "0A 05"},
		{"nibbles, low one first", "{value:4x2<}", fields{value: 0xA5}, "05 0A"},
		{"nothing added", "{slot}", fields{slot: 1}, "01"},
		{"slots from 1 on the panel, from 0 on the wire", "{slot-1}", fields{slot: 1}, "00"},
		{"an offset in the middle of the codes", "{value+64}", fields{value: -64}, "00"},
		// two's complement in 7 bits: 128 − 1 = 127
		{"two's complement in one byte", "{value:7x1s}", fields{value: -1}, "7F"},
		// 16384 − 100 = 16284 = 127·128 + 28
		{"two's complement in two bytes, low bits first", "{value:7x2s<}", fields{value: -100}, "1C 7F"},
		{"how often a hundred goes into it, and the rest", "{value/100} {value%100}", fields{value: 1234}, "0C 22"},
		{"three decimal places", "{value/100} {value/10%10} {value%10}", fields{value: 987}, "09 08 07"},
		{"banks of a hundred, slots from 1", "{(slot-1)/100} {(slot-1)%100}", fields{slot: 158}, "01 39"},
		{"decimal digits in ASCII", "{slot:dec3}", fields{slot: 7}, "30 30 37"},
		{"hexadecimal digits in ASCII", "{value:hex2}", fields{value: 0xA5}, "41 35"},
		{"the device number in half a byte", "1{unit} 00", fields{unit: 5}, "15 00"},
		{"text", "'BIN '", fields{}, "42 49 4E 20"},
		{"counted bytes", "{count} [{value:7x3} 00]", fields{value: 1}, "04 00 00 01 00"},
		{"counted bytes less one", "{count-1} [{value:7x3} 00]", fields{value: 1}, "03 00 00 01 00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			tmpl, err := parseTemplate("F0 7D "+c.place+" F7", templateRules{})
			require.NoError(t, err)
			got, err := tmpl.append(nil, &c.fields)
			require.NoError(t, err)
			require.Equal(t, "F0 7D "+c.want+" F7", midi.Hex(got))
			var back fields
			require.NoError(t, tmpl.parse(got, &back))
			require.Equal(t, c.fields, back)
		})
	}
}

func TestNumbersThatDoNotFitTheirPlace(t *testing.T) {
	for _, c := range []struct {
		place  string
		fields fields
		want   string
	}{
		{"{value}", fields{value: 128}, "value 128: its place in the message holds 0 to 127"},
		{"{value}", fields{value: -1}, "value -1"},
		{"{value:7x1s}", fields{value: 64}, "holds -64 to 63"},
		{"{slot-1}", fields{slot: 0}, "slot 0"},
		{"{value:dec2}", fields{value: 100}, "holds 0 to 99"},
		{"{value/100} {value%100}", fields{value: -1}, "value -1"},
		{"1{unit}", fields{unit: 16}, "holds 0 to 15"},
	} {
		tmpl, err := parseTemplate("F0 7D "+c.place+" F7", templateRules{})
		require.NoError(t, err)
		_, err = tmpl.append(nil, &c.fields)
		require.ErrorContains(t, err, c.want, c.place)
	}
}

func TestMessagesThatDoNotFitTheirTemplate(t *testing.T) {
	for _, c := range []struct{ template, message, want string }{
		{"F0 7D {value/100} {value%100} F7", "F0 7D 01 64 F7", "do not belong together"}, // 100 is no rest of 100
		{"F0 7D {value:4x2} F7", "F0 7D 1A 05 F7", "1A 05 where"},
		{"F0 7D 1{unit} F7", "F0 7D 25 F7", "25 where"},
		{"F0 7D {slot:dec2} F7", "F0 7D 30 3A F7", "30 3A where"},
		{"F0 7D {value} F7", "F0 7D 05", "ends inside"},
		{"F0 7D {value} F7", "F0 7D 05 F7 F7", "5 bytes: 4 wanted"},
	} {
		tmpl, err := parseTemplate(c.template, templateRules{})
		require.NoError(t, err)
		message, err := midi.ParseHex(c.message)
		require.NoError(t, err)
		require.ErrorContains(t, tmpl.parse(message, &fields{}), c.want, c.template)
	}
}

func TestTemplatesThatCannotBe(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"nothing", "", "begins with F0"},
		{"no status", "01 02", "begins with a status"},
		{"no end", "F0 7D 01", "ends with F7"},
		{"bits over 7", "F0 7D 80 F7", "80 has more than 7 bits"},
		{"half a controller", "B{channel} 10", "1 missing"},
		{"a byte too many", "C{channel} 05 F7", "no status that can be used here"},
		{"running status where it is not said to be understood", "B{channel} 10 {value} 11 00", "running_status"},
		{"data behind an end", "F0 7D F7 05", "behind the end"},
		{"a status inside a message", "B{channel} 10 C{channel} 05", "before the one before it has all its bytes"},
		{"a clock", "F8", "F8 is no status that can be used here"},
		{"an unknown place", "F0 {valeu} F7", "the places are"},
		{"arithmetic that could mean two things", "F0 7D {slot-1/100} F7", "the places are"},
		{"division by nothing", "F0 7D {value/0} F7", "the places are"},
		{"a form of 8 bits", "F0 7D {value:8x1} F7", "BITSxCOUNT"},
		{"a form of 36 bits", "F0 7D {value:6x6} F7", "BITSxCOUNT"},
		{"a text without an end", "F0 'BIN F7", "has no end"},
		{"a text with an umlaut", "F0 'Ä' F7", "printable ASCII"},
		{"a half of two digits", "F0 7D 12{unit} F7", "one hex digit"},
		{"a count of nothing", "F0 7D {count} F7", "[ ]"},
		{"brackets without a count", "F0 7D [01] F7", "[ ]"},
		{"brackets twice", "F0 7D {count} [01] [02] F7", "stands twice"},
		{"a sum without a rule", "F0 7D (01) {sum} F7", "no checksum"},
		{"long", "F0 " + strings.Repeat("01 ", 200) + "F7", "128 at most"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := parseTemplate(c.text, templateRules{})
			require.ErrorContains(t, err, c.want)
		})
	}
}

func TestRunningStatusIsWrittenOutForWhoReadsMessageByMessage(t *testing.T) {
	tmpl, err := parseTemplate("B{channel} 63 01 62 00 06 {value/128} 26 {value%128}", templateRules{running: true})
	require.NoError(t, err)
	require.Equal(t, 4, tmpl.messages)
	f := fields{channel: 2, value: 1000}
	short, err := tmpl.append(nil, &f)
	require.NoError(t, err)
	require.Equal(t, "B2 63 01 62 00 06 07 26 68", midi.Hex(short))
	long, err := tmpl.expanded.append(nil, &f)
	require.NoError(t, err)
	require.Equal(t, "B2 63 01 B2 62 00 B2 06 07 B2 26 68", midi.Hex(long))
}

func FuzzTemplate(f *testing.F) {
	for _, s := range []string{
		"F0 7D 05 {unit} ({command} {address:7x2} {value:7x2}) {sum} F7", "B{channel} 0C {value/128} B{channel} 2C {value%128}",
		"F0 7E {count-1} ['MEM' {slot:dec2} {(slot-1)/100%128}] F7", "C{channel} {slot}", "F0 7D {value:7x2s<} {dump} F7", "B{channel} 10 {value} 11 05",
	} {
		f.Add(s, 5)
	}
	xor := &checksum{kind: "xor", of: sums["xor"](0)}
	f.Fuzz(func(t *testing.T, text string, v int) {
		tmpl, err := parseTemplate(text, templateRules{sum: xor, dump: 8, running: true})
		if err != nil {
			return
		}
		in := fields{unit: v & 15, channel: v & 15, command: v & 127, address: v, value: v, slot: v, dump: make([]byte, 8)}
		message, err := tmpl.append(nil, &in)
		if err != nil {
			return
		}
		for _, m := range midi.Split(message) {
			require.NotEmpty(t, m)
		}
		var got fields
		if tmpl.parse(message, &got) == nil && tmpl.has(fieldValue) {
			again, err := tmpl.append(nil, &fields{unit: got.unit, channel: got.channel, command: got.command, address: got.address, value: got.value, slot: got.slot, dump: in.dump})
			require.NoError(t, err)
			require.Equal(t, message, again, "what was read says the same")
		}
		_, _ = tmpl.match(&in)
	})
}
