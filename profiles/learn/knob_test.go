package learn

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// swept is what fill makes of every code from least to greatest.
func swept(least, greatest, step int, fill func(code int) [][]byte) [][]byte {
	var all [][]byte
	for code := least; code <= greatest; code += step {
		all = append(all, fill(code)...)
	}
	return all
}

func cc(channel, number, value int) []byte {
	return []byte{0xB0 | byte(channel-1), byte(number), byte(value)}
}

// The messages of these knobs follow MIDI 1.0 (document 4.2.1): control changes
// from table III, (N)RPN from pages 12 and 17, null from the later table 3a.
func TestAKnobOfChannelMessagesIsRecognised(t *testing.T) {
	tests := []struct {
		name  string
		heard [][]byte
		want  Finding
	}{
		{
			"a control change of 7 bits",
			swept(0, 127, 1, func(code int) [][]byte { return [][]byte{cc(3, 85, code)} }),
			Finding{Kind: Control, Channel: 3, Number: 85, Least: 0, Greatest: 127, Distinct: 128, Messages: 128},
		},
		{
			"a pair, high half first",
			swept(0, 16383, 127, func(code int) [][]byte { return [][]byte{cc(1, 12, code>>7), cc(1, 44, code&0x7F)} }),
			Finding{Kind: Pair, Channel: 1, Number: 12, Low: 44, Least: 0, Greatest: 16383, Distinct: 130, Messages: 130, HighFirst: true, Fourteen: true},
		},
		{
			"a pair, low half first",
			swept(0, 16383, 127, func(code int) [][]byte { return [][]byte{cc(1, 44, code&0x7F), cc(1, 12, code>>7)} }),
			Finding{Kind: Pair, Channel: 1, Number: 12, Low: 44, Least: 0, Greatest: 16383, Distinct: 130, Messages: 130, Fourteen: true},
		},
		{
			"an NRPN of 14 bits, high half first",
			swept(0, 1000, 10, func(code int) [][]byte {
				return [][]byte{cc(2, 99, 1), cc(2, 98, 3), cc(2, 6, code>>7), cc(2, 38, code&0x7F)}
			}),
			Finding{Kind: NRPN, Channel: 2, Number: 1<<7 | 3, Least: 0, Greatest: 1000, Distinct: 101, Messages: 101, HighFirst: true, Fourteen: true},
		},
		{
			"an NRPN of 7 bits, low half first, closed with null",
			swept(0, 127, 1, func(code int) [][]byte {
				return [][]byte{cc(2, 98, 3), cc(2, 99, 1), cc(2, 6, code), cc(2, 98, 127), cc(2, 99, 127)}
			}),
			Finding{Kind: NRPN, Channel: 2, Number: 1<<7 | 3, Least: 0, Greatest: 127, Distinct: 128, Messages: 128, Null: true},
		},
		{
			"an RPN chosen once and then turned",
			append([][]byte{cc(1, 101, 0), cc(1, 100, 1)}, swept(0, 127, 1, func(code int) [][]byte { return [][]byte{cc(1, 6, code)} })...),
			Finding{Kind: RPN, Channel: 1, Number: 1, Least: 0, Greatest: 127, Distinct: 128, Messages: 128, HighFirst: true},
		},
		{
			"a switch",
			[][]byte{cc(1, 102, 0), cc(1, 102, 127), cc(1, 102, 0)},
			Finding{Kind: Control, Channel: 1, Number: 102, Least: 0, Greatest: 127, Distinct: 2, Messages: 3},
		},
		{
			"a program change among clocks",
			[][]byte{{0xF8}, {0xC4, 9}, {0xF8}, {0xC4, 10}, {0xFE}},
			Finding{Kind: Program, Channel: 5, Least: 9, Greatest: 10, Distinct: 2, Messages: 2},
		},
		{
			"a bender, low half first as always",
			[][]byte{{0xE0, 0, 0x40}, {0xE0, 0x7F, 0x7F}, {0xE0, 0, 0}},
			Finding{Kind: Bend, Channel: 1, Least: 0, Greatest: 16383, Distinct: 3, Messages: 3},
		},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			found := Knob(test.heard)
			require.NotEmpty(t, found)
			require.Equal(t, test.want, found[0])
		})
	}
}

func TestTheKnobThatMovedMostComesFirst(t *testing.T) {
	heard := append(swept(0, 127, 1, func(code int) [][]byte { return [][]byte{cc(1, 20, code)} }), cc(1, 7, 100), cc(1, 7, 100))
	found := Knob(heard)
	require.Len(t, found, 2)
	require.Equal(t, 20, found[0].Number)
	require.True(t, found[0].Moved())
	require.False(t, found[1].Moved())
	require.Contains(t, found[1].String(), "did not move")
}

func TestDataEntryWithoutAParameterIsAControlChange(t *testing.T) {
	found := Knob([][]byte{cc(1, 99, 127), cc(1, 98, 127), cc(1, 6, 5), cc(1, 6, 9)})
	require.Len(t, found, 1)
	require.Equal(t, Control, found[0].Kind)
	require.Equal(t, 6, found[0].Number)
}

func TestNothingHeardIsNothingFound(t *testing.T) {
	require.Empty(t, Knob(nil))
	require.Empty(t, Knob([][]byte{{}, {0xF8}, {0xB0}, {0xF0, 0xF7}}))
}

func TestFindingsAreToldInWords(t *testing.T) {
	pair := Knob(swept(0, 16383, 127, func(code int) [][]byte { return [][]byte{cc(1, 12, code>>7), cc(1, 44, code&0x7F)} }))[0]
	require.Equal(t, "control changes 12 (high half) and 44 (low half), high half first on channel 1, codes 0 to 16383, 130 of them different", pair.String())
	nrpn := Knob(swept(0, 90, 9, func(code int) [][]byte {
		return [][]byte{cc(2, 98, 3), cc(2, 99, 1), cc(2, 6, code), cc(2, 98, 127), cc(2, 99, 127)}
	}))[0]
	require.Equal(t, "NRPN 01 03, low half first, value of 7 bits, closed with the null parameter on channel 2, codes 0 to 90, 11 of them different", nrpn.String())
}

func FuzzKnob(f *testing.F) {
	f.Add([]byte("\xB0\x63\x01\xB0\x62\x02\xB0\x06\x10\xF0\x7D\x05\x01\xF7"))
	f.Fuzz(func(t *testing.T, b []byte) {
		var messages [][]byte
		for i := 0; i < len(b); i += 5 {
			messages = append(messages, b[i:min(i+5, len(b))])
		}
		for _, found := range Knob(messages) {
			require.LessOrEqual(t, found.Least, found.Greatest)
			require.NotEmpty(t, found.String())
		}
	})
}
