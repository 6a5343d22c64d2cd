package cli

import (
	"encoding/json"
	"errors"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/library/exchange"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

func TestHowSlotsDiffer(t *testing.T) {
	d := fiveLine(t)
	rest := d.Rest()
	loud := rest.Clone()
	loud.Codes[d.Parameter("a-time")] = 1210 // 121 ms, 0.1 ms a code (five-line.md)
	loud.Name = "slack tide"
	broken := errors.New("its checksum is wrong")
	for _, c := range []struct {
		name    string
		was, is exchange.Slot
		want    []slotDifference
	}{
		{"nothing", exchange.Slot{Message: []byte{1}, Setting: rest}, exchange.Slot{Message: []byte{1}, Setting: rest}, nil},
		{"only how it was packed", exchange.Slot{Message: []byte{1}, Memory: []byte{9}, Setting: rest},
			exchange.Slot{Message: []byte{2}, Memory: []byte{9}, Setting: rest}, nil},
		{"parameters and the name", exchange.Slot{Number: 7, Message: []byte{1}, Memory: []byte{1}, Setting: rest},
			exchange.Slot{Number: 7, Message: []byte{2}, Memory: []byte{2}, Setting: loud},
			[]slotDifference{
				{Slot: 7, Difference: profiles.Difference{Parameter: "a-time", Was: 0.0, Is: 121.0, Unit: "ms"}},
				{Slot: 7, Difference: profiles.Difference{Parameter: "name", Was: "", Is: "slack tide"}},
			}},
		{"bytes of no parameter", exchange.Slot{Message: []byte{1}, Memory: []byte{1}, Setting: rest},
			exchange.Slot{Message: []byte{2}, Memory: []byte{2}, Setting: rest},
			[]slotDifference{{Remark: "bytes differ that mean no parameter"}}},
		{"what was sent, in another order", exchange.Slot{Message: []byte{1}, Setting: rest}, exchange.Slot{Message: []byte{2}, Setting: rest}, nil},
		{"no setting before", exchange.Slot{Message: []byte{1}, Memory: []byte{1}, Fault: broken}, exchange.Slot{Message: []byte{2}, Memory: []byte{2}, Setting: rest},
			[]slotDifference{{Remark: "was no setting: its checksum is wrong"}}},
		{"no setting now", exchange.Slot{Message: []byte{1}, Memory: []byte{1}, Setting: rest}, exchange.Slot{Message: []byte{2}, Memory: []byte{2}, Fault: broken},
			[]slotDifference{{Remark: "is no setting: its checksum is wrong"}}},
		{"the same that is no setting", exchange.Slot{Message: []byte{1}, Fault: broken}, exchange.Slot{Message: []byte{1}, Fault: broken}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, slotDifferences(d, c.was, c.is))
		})
	}
}

func TestOnlySlotsOfBothSidesAreCompared(t *testing.T) {
	d := fiveLine(t)
	slot := func(n int) exchange.Slot {
		return exchange.Slot{Number: n, Message: []byte{byte(n)}, Setting: d.Rest()}
	}
	got := differ(d, []exchange.Slot{slot(1), slot(2), slot(5)}, []exchange.Slot{slot(2), slot(3), slot(5)})
	require.Equal(t, diff{Compared: []int{2, 5}, Difference: []slotDifference{}}, got)
	text, err := json.Marshal(got)
	require.NoError(t, err)
	require.JSONEq(t, `{"compared": [2, 5], "difference": []}`, string(text), "lists of nothing are empty lists")
}

func TestASnapshotBesideTheDevice(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		name := b.with(t, "backup", "--slots", "4-6", "--json").decode(t)["snapshot"].(string)
		require.Empty(t, b.with(t, "snapshot", "diff", name, "--json").decode(t)["difference"])
		require.Equal(t, exitDone, b.with(t, "push", write(t, "fen.toml", someUnit), "--slot", "5").code)
		v := b.with(t, "snapshot", "diff", name, "--json").decode(t)
		require.Equal(t, []any{4.0, 5.0, 6.0}, v["compared"])
		for _, one := range v["difference"].([]any) {
			d := hasFields(t, one, "slot", "parameter", "was", "is")
			require.Equal(t, 5.0, d["slot"])
		}
		found := first(t, v["difference"]).(map[string]any)
		require.Equal(t, "a-time", found["parameter"])
		require.Equal(t, 200.0, found["is"], "the first head of the unit")
	})
}

// A comparison writes nothing, into the device or the library, however ill the
// device is, and never tells differences that are none.
func TestAComparisonOnlyReads(t *testing.T) {
	for _, c := range []struct {
		name string
		ill  emulator.Faults
		code int
		says string
	}{
		{"in good health", emulator.Faults{}, exitDone, ""},
		{"mute", emulator.Faults{Mute: true}, exitNoAnswer, "no answer"},
		{"an answer damaged", emulator.Faults{CorruptAnswer: 2}, exitDone, "slot 5 came damaged, asked for again"},
		{"an answer lost", emulator.Faults{LoseAnswer: 1}, exitDone, ""},
		{"every answer twice", emulator.Faults{DoubleAnswer: emulator.Every}, exitDone, ""},
		{"every answer damaged", emulator.Faults{CorruptAnswer: emulator.Every}, exitFailed, "echowright: "},
		{"dead in the middle", emulator.Faults{DieAfter: 2}, exitNoAnswer, "reading slot 6"},
	} {
		t.Run(c.name, func(t *testing.T) {
			onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
				name := b.with(t, "backup", "--slots", "4-6", "--json").decode(t)["snapshot"].(string)
				ill, err := emulator.New("five-line", emulator.Options{Faults: c.ill})
				require.NoError(t, err)
				b.plug(ill)
				b.device = ill
				before, kept := b.memories(t), b.shelf(t)
				got := b.with(t, "snapshot", "diff", name)
				require.Equal(t, c.code, got.code, got.talk)
				require.Contains(t, got.talk, c.says)
				if c.code == exitDone {
					require.Equal(t, "no parameter differs in the slots that both hold: slots 4-6\n", got.out)
				} else {
					require.Empty(t, got.out)
				}
				require.Equal(t, before, b.memories(t))
				require.Equal(t, kept, b.shelf(t))
			})
		})
	}
}
