package profiles

import (
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// What a knob sends, or a program, need not be in the form that this program
// sends. Rules: M1 pages 11 to 13 and 17.
func TestDecoderKeepsWhatWasSelected(t *testing.T) {
	for _, c := range []struct {
		name, device, bytes string
		want                []string // parameter = code, or what else
	}{
		{"running status", "tap-loop", "B0 63 01 62 03 06 0F 26 50", []string{"tap-3-time 2000"}},
		{"the number's halves the other way round", "tap-loop", "B0 62 03 B0 63 01 B0 06 0F B0 26 50", []string{"tap-3-time 2000"}},
		{"more values for the number that is chosen", "tap-loop", "B0 63 01 62 03 06 0F 26 50 26 51 06 10 26 00", []string{"tap-3-time 2000", "tap-3-time 2001", "tap-3-time 2048"}},
		{"only the low half of the number is new", "tap-loop", "B0 63 01 62 03 06 0F 26 50 62 04 06 00 26 01", []string{"tap-3-time 2000", "tap-4-time 1"}},
		{"none is chosen any more", "tap-loop", "B0 63 01 62 03 65 7F 64 7F 06 0F 26 50", nil},
		{"a registered number of the same figures", "tap-loop", "B0 65 01 64 03 06 0F 26 50", nil},
		{"a number that the unit does not have", "tap-loop", "B0 63 02 62 03 06 0F 26 50", nil},
		{"values before any number", "tap-loop", "B0 06 0F 26 50", nil},
		{"channels do not mix", "tap-loop", "B0 63 01 B1 62 03 B0 06 0F B0 26 50", nil},
		{"notes and clocks between", "tap-loop", "B0 63 01 F8 62 03 90 3C 40 B0 06 0F FE 26 50", []string{"tap-3-time 2000"}},
		{"other controllers", "tap-loop", "B0 10 64 55 73 07 7F", []string{"tap-0-level 100", "feedback 115"}},
		{"store and load", "tap-loop", "B0 77 09 C0 0A", []string{"store 9", "load 10"}},
		// CC 13 = 20h alone is 20h·128 = 4096, the low byte is put to 0
		{"a high byte alone", "twin", "B0 0D 20 2D 05 0D 20", []string{"line-2-time 4096", "line-2-time 4101", "line-2-time 4096"}},
		{"a low byte alone", "twin", "B0 0D 20 2D 05 2D 06", []string{"line-2-time 4096", "line-2-time 4101", "line-2-time 4102"}},
		{"a preset of the bank chosen before", "twin", "B0 00 00 20 01 C0 39 C0 3A", []string{"load 157", "load 158"}},
		{"a preset without a bank", "twin", "C0 39", []string{"load 57"}},
		{"a program that no bank has", "twin", "C0 64", nil}, // 100
		{"store in the preset last chosen", "twin", "B0 76 7F", []string{"store -1"}},
		{"another value on the store's controller", "twin", "B0 76 7E", nil},
		{"a code that means nothing", "twin", "B0 0E 0C", nil}, // clocked times are 0 to 11
		{"pairs of parameters", "open-parameter", "F0 7F 00 04 05 01 01 02 02 02 00 44 13 01 37 06 F7", []string{"tap-2-time 2500", "tap-2-level 823"}},
		{"a pair unknown to it among them", "open-parameter", "F0 7F 00 04 05 01 01 02 02 02 05 44 13 01 37 06 F7", []string{"tap-2-level 823"}},
		{"to all devices", "open-parameter", "F0 7F 7F 04 05 01 01 02 02 00 00 68 07 F7", []string{"feedback 1000"}},
		{"a value that it does not have", "open-parameter", "F0 7F 00 04 05 01 01 02 02 00 00 69 07 F7", nil}, // 1001
		// five-line.md: 10h+23h+3Ah = 6Dh; 80h − 6Dh = 13h; the reply 12h: 11h
		{"an address is set", "five-line", "F0 7D 05 00 10 00 23 00 3A 13 F7", []string{"c-feedback 58"}},
		{"and told", "five-line", "F0 7D 05 00 12 00 23 00 3A 11 F7", []string{"c-feedback 58"}},
		{"damaged", "five-line", "F0 7D 05 00 10 00 23 00 3B 13 F7", []string{"damaged"}},
		{"an answer", "five-line", "F0 7D 05 00 7E 20 06 5C F7", []string{"answer busy writing its memory"}},
		{"load", "five-line", "F0 7D 05 00 31 05 4A F7", []string{"load 5"}},
		{"store", "five-line", "F0 7D 05 00 30 05 4B F7", []string{"store 5"}},
		{"another maker's", "five-line", "F0 41 05 00 30 05 4B F7", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, err := Shipped(c.device)
			require.NoError(t, err)
			stream, err := midi.ParseHex(c.bytes)
			require.NoError(t, err)
			require.Equal(t, c.want, inWords(d, decodeAll(d.Decoder(None), stream)))
			require.Equal(t, c.want, inWords(d, decodeAll(d.Decoder(d.Manners.FirstUnit), stream)), "for the first unit or channel alone")
		})
	}
}

func inWords(d *Device, all []Told) []string {
	var words []string
	for _, told := range all {
		switch told.Kind {
		case ToldSet:
			words = append(words, d.Parameters[told.Parameter].Name+" "+strconv.Itoa(told.Code))
		case ToldLoad:
			words = append(words, "load "+strconv.Itoa(told.Slot))
		case ToldStore:
			words = append(words, "store "+strconv.Itoa(told.Slot))
		case ToldAnswer:
			words = append(words, "answer "+told.Says)
		case ToldDamaged:
			words = append(words, "damaged")
		}
	}
	return words
}

func TestDecoderTellsWhatASlotHolds(t *testing.T) {
	d := fiveLine(t)
	want := setting(t, d, map[string]int{"a-time": 1210})
	write, err := d.WriteSlotStep(3, 9, d.AppendSlot(nil, want))
	require.NoError(t, err)
	for _, message := range [][]byte{write.Send, slotReply(t, d, 9, d.AppendSlot(nil, want))} {
		told := d.Decoder(None).Feed(message)
		require.Len(t, told, 1)
		require.Equal(t, ToldSlot, told[0].Kind)
		require.Equal(t, 9, told[0].Slot)
		got, err := d.SlotSetting(told[0].Memory)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
}

func FuzzDecoder(f *testing.F) {
	f.Add(0, []byte{0xB0, 0x63, 1, 0x62, 3, 6, 15, 38, 80, 0xC0, 5})
	f.Add(1, []byte{0xF0, 0x7F, 0, 4, 5, 1, 1, 2, 2, 2, 0, 0x44, 0x13, 0xF7})
	f.Add(2, []byte{0xF0, 0x7D, 5, 0, 0x10, 0, 0x23, 0, 0x3A, 0x13, 0xF7})
	f.Fuzz(func(t *testing.T, which int, stream []byte) {
		names := Names()
		d, err := Shipped(names[((which%len(names))+len(names))%len(names)])
		require.NoError(t, err)
		decoder := d.Decoder(None)
		for _, m := range append(midi.Split(stream), stream) { // also what no framer would give
			for _, told := range decoder.Feed(m) {
				if told.Kind == ToldSet {
					require.True(t, d.Parameters[told.Parameter].Scale.Holds(told.Code))
				}
			}
		}
	})
}

// A device with messages of its own for its parameters is decoded by them.
func TestDecoderReadsMessagesOfAParametersOwn(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 9))
	for _, send := range []string{
		"B{channel} 14 {value/100} B{channel} 15 {value%100}",
		"F0 7D 01 {unit} 'T' {value:7x2<} F7",
		"F0 7D 01 1{unit} {value:4x4} F7",
		"E{channel} {value%128} {value/128}",
		"F0 7D 02 {value:dec5} F7",
	} {
		d := parsed(t, oneLine("units = [0, 15]", "send = \""+send+"\"", "9999"))
		for range 50 {
			code := random.IntN(10000)
			s, err := d.SetStep(7, 0, code)
			require.NoError(t, err)
			told := decodeAll(d.Decoder(7), s.Send)
			require.NotEmpty(t, told, send)
			require.Equal(t, Told{Kind: ToldSet, Parameter: 0, Code: code, Slot: None}, told[len(told)-1], send)
		}
	}
}

func BenchmarkDecoder(b *testing.B) {
	d, err := Shipped("tap-loop")
	require.NoError(b, err)
	s, err := d.SetStep(1, 0, 2000)
	require.NoError(b, err)
	messages := midi.Split([]byte{0xB0, 0x63, 1, 0xB0, 0x62, 0, 0xB0, 6, 15, 0xB0, 38, 80})
	require.NotEmpty(b, s.Send)
	decoder := d.Decoder(None)
	b.ReportAllocs()
	for b.Loop() {
		for _, m := range messages {
			decoder.Feed(m)
		}
	}
	b.ReportMetric(float64(len(messages)*b.N)/b.Elapsed().Seconds(), "messages/s")
}
