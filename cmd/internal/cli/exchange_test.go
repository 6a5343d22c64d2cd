package cli

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/profiles/emulator"
)

func TestPushReadBackupRestore(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		before := b.memories(t)
		unit := write(t, "fen.toml", someUnit)
		snapshot := b.with(t, "backup", "--slots", "4-6", "--json").decode(t)
		require.Equal(t, 3.0, snapshot["slots"])

		pushed := b.with(t, "push", unit, "--slot", "5", "--json").decode(t)
		require.Equal(t, "yes", pushed["verified"])
		require.Equal(t, 5.0, pushed["slot"])
		read := b.with(t, "read", "--slot", "5", "--json").decode(t)
		require.Equal(t, "fen-disc", read["name"])
		echo := read["echo"].([]any)[1].(map[string]any)
		require.InDelta(t, 400, echo["ms"], 0.05)
		require.InDelta(t, 0, echo["db"], 0.3)

		restored := b.with(t, "restore", snapshot["snapshot"].(string), "--yes", "--json").decode(t)
		require.Equal(t, []any{5.0}, restored["written"])
		require.Len(t, restored["same"], 2)
		require.Equal(t, before, b.memories(t), "byte for byte as it was")
	})
}

func TestALoadedSlotSounds(t *testing.T) {
	for _, load := range []bool{true, false} {
		onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
			args := []string{"push", write(t, "fen.toml", someUnit), "--slot", "5"}
			if load {
				args = append(args, "--load")
			}
			require.Equal(t, exitDone, b.with(t, args...).code)
			sounding, err := b.device.Memory(emulator.EditBuffer)
			require.NoError(t, err)
			slot, err := b.device.Memory(5)
			require.NoError(t, err)
			require.Equal(t, load, bytes.Equal(sounding, slot))
		})
	}
}

// TestWhatIllDevicesDo gives a push, a read, a backup to devices that fail: the
// exit code says how, and unless a slot was written the memory is as it was.
func TestWhatIllDevicesDo(t *testing.T) {
	every := emulator.Every
	for _, c := range []struct {
		name               string
		ill                emulator.Options
		push, read, backup int // exit codes
		says               string
		touched            bool // the slot may hold something else afterwards
	}{
		{name: "in good health", touched: true},
		{name: "mute", ill: emulator.Options{Faults: emulator.Faults{Mute: true}},
			push: exitNoAnswer, read: exitNoAnswer, backup: exitNoAnswer, says: "nothing came at all: is the device on"},
		{name: "another model", ill: emulator.Options{Faults: emulator.Faults{WrongIdentity: true}},
			push: exitFailed, backup: exitFailed, says: "choose the profile of the device that is there"},
		{name: "write-protected", ill: emulator.Options{WriteProtected: true},
			push: exitFailed, says: "the memory is write-protected"},
		{name: "keeps a time", ill: emulator.Options{Faults: emulator.Faults{Keep: []int{0}}},
			push: exitDifferent, says: "slot 5: it was written, but then held something else; a-time: wanted 200"},
		{name: "stores nothing", ill: emulator.Options{Faults: emulator.Faults{FalseStore: every}},
			push: exitDifferent, says: "slot 5: it was written, but then held something else"},
		{name: "refuses values", ill: emulator.Options{Faults: emulator.Faults{RefuseValues: every}},
			push: exitFailed, says: "value out of range"},
		{name: "all answers damaged", ill: emulator.Options{Faults: emulator.Faults{CorruptAnswer: every}},
			push: exitFailed, read: exitFailed, backup: exitFailed, says: "echowright: "},
		{name: "an answer lost", ill: emulator.Options{Faults: emulator.Faults{LoseAnswer: 2}}, touched: true},
		{name: "an answer twice", ill: emulator.Options{Faults: emulator.Faults{DoubleAnswer: every}}, touched: true},
		{name: "an answer late", ill: emulator.Options{Faults: emulator.Faults{LateAnswer: 2, LateBy: 600 * time.Millisecond}}, touched: true},
		{name: "noise between", ill: emulator.Options{Faults: emulator.Faults{Rubbish: every}}, touched: true},
		{name: "byte by byte", ill: emulator.Options{Faults: emulator.Faults{SingleBytes: true}}, touched: true},
		{name: "dead after its identity", ill: emulator.Options{Faults: emulator.Faults{DieAfter: 1}},
			push: exitNoAnswer, backup: exitNoAnswer, says: "no answer"}, // a read asks for no identity
	} {
		t.Run(c.name, func(t *testing.T) {
			onBench(t, c.ill, func(t *testing.T, b bench) {
				before := b.memories(t)
				got := b.with(t, "push", write(t, "fen.toml", someUnit), "--slot", "5", "-q")
				require.Equal(t, c.push, got.code, got.talk)
				require.Contains(t, got.talk, c.says)
				require.LessOrEqual(t, strings.Count(got.talk, "echowright: "), 1, "an error is told once")
				if !c.touched {
					require.Equal(t, before, b.memories(t))
				}
			})
			onBench(t, c.ill, func(t *testing.T, b bench) {
				before := b.memories(t)
				require.Equal(t, c.backup, b.with(t, "backup", "--slots", "0-2").code, "backup")
				require.Equal(t, before, b.memories(t), "a backup only reads")
				if c.backup != exitDone {
					require.Empty(t, b.shelf(t), "a snapshot is whole or not there")
				}
			})
			onBench(t, c.ill, func(t *testing.T, b bench) {
				require.Equal(t, c.read, b.with(t, "read", "--slot", "2").code, "read")
				require.Empty(t, b.shelf(t), "a read leaves nothing behind")
			})
		})
	}
}

func TestWhatWasOverwrittenIsKeptWhateverHappens(t *testing.T) {
	for _, ill := range []emulator.Faults{{}, {Keep: []int{0}}, {FalseStore: emulator.Every}, {RefuseValues: emulator.Every}} {
		onBench(t, emulator.Options{Faults: ill}, func(t *testing.T, b bench) {
			old, err := b.device.Memory(5)
			require.NoError(t, err)
			b.with(t, "push", write(t, "fen.toml", someUnit), "--slot", "5")
			list := b.run(t, "snapshot", "list", "--json").decode(t)["snapshot"].([]any)
			require.Len(t, list, 1)
			name := list[0].(map[string]any)["name"].(string)
			require.Equal(t, exitDone, b.run(t, "snapshot", "check", name).code)
			kept := b.shelf(t)[b.Getenv("ECHOWRIGHT_HOME")+"/snapshots/"+name+"/slot-05.syx"]
			require.Len(t, kept, 118, "the device's own message: 8 bytes round 110")
			require.Equal(t, old, unpacked([]byte(kept)[6:116]))
		})
	}
}

// unpacked undoes the packing of the MIDI File Dump, seven bytes in eight, the
// top bits first (MIDI 1.0 Detailed Specification, File Dump).
func unpacked(packed []byte) (out []byte) {
	for len(packed) > 0 {
		n := min(8, len(packed))
		for i, b := range packed[1:n] {
			out = append(out, b|packed[0]<<(i+1)&0x80)
		}
		packed = packed[n:]
	}
	return out
}

func TestASnapshotOfAnotherDeviceGoesIntoNone(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		name := b.with(t, "backup", "--slots", "1", "--json").decode(t)["snapshot"].(string)
		own := strings.Replace(string(fiveLine(t).Source()), `title = "Five delay`, `title = "Six delay`, 1)
		changed := write(t, "changed.toml", own)
		renamed := write(t, "renamed.toml", strings.Replace(own, `name = "five-line"`, `name = "other-line"`, 1))
		before := b.memories(t)
		got := b.run(t, "restore", name, "--device", changed, "--port", "bench:device", "--slot", "1", "--to", "2")
		require.Equal(t, exitFailed, got.code)
		require.Contains(t, got.talk, "another version of the profile")
		got = b.run(t, "restore", name, "--device", renamed, "--port", "bench:device", "--slot", "1", "--to", "2")
		require.Contains(t, got.talk, `of device "five-line", not of "other-line"`)
		require.Equal(t, before, b.memories(t))
	})
}

func TestRigsAndUnitNumbers(t *testing.T) {
	onBench(t, emulator.Options{Unit: 3}, func(t *testing.T, b bench) {
		require.Equal(t, exitDone, b.run(t, "rig", "add", "stage", "--device", "five-line", "--port", "bench:device", "--unit", "3").code)
		require.Equal(t, exitDone, b.run(t, "read", "--rig", "stage", "--slot", "1").code)
		require.Equal(t, exitNoAnswer, b.run(t, "read", "--rig", "stage", "--unit", "4", "--slot", "1").code, "the flag has the last word")
		require.Equal(t, exitMisused, b.run(t, "read", "--rig", "stage", "--unit", "16", "--slot", "1").code)
		require.Equal(t, exitMisused, b.run(t, "read", "--rig", "stage", "--port", "bench:device", "--slot", "1").code)
	})
}

func TestADryRunIsThePlanAndTheFileAndTheWire(t *testing.T) {
	e := world(t)
	unit := write(t, "fen.toml", someUnit)
	plan := e.run(t, "plan", unit, "--device", "five-line", "--slot", "5", "--json", "-q")
	dry := e.run(t, "push", unit, "--device", "five-line", "--port", "raw:/nowhere", "--slot", "5", "--dry-run", "--json", "-q")
	require.Equal(t, plan.out, dry.out)

	file := t.TempDir() + "/out.syx"
	sent := e.run(t, "push", unit, "--device", "five-line", "--port", "file:"+file, "--slot", "5", "--json", "-q").decode(t)
	require.Equal(t, "unreadable", sent["verified"])
	text, err := hex.DecodeString(strings.ReplaceAll(plan.decode(t)["message"].([]any)[0].(string), " ", ""))
	require.NoError(t, err)
	require.Equal(t, fmt.Sprintf("%x", text), fmt.Sprintf("%x", readAll(t, file)))
}

func TestADryRunNeedsNoPort(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		snapshot := b.with(t, "backup", "--slots", "1", "--json").decode(t)["snapshot"].(string)
		before := b.memories(t)
		for _, command := range [][]string{
			{"push", write(t, "fen.toml", someUnit), "--slot", "5"},
			{"restore", snapshot},
			{"songs", "push", writeSet(t, ebb)},
		} {
			dry := append(command, "--dry-run")
			named := b.with(t, append(dry, "--json")...)
			alone := b.run(t, append(dry, "--device", "five-line", "--json")...)
			require.Equal(t, exitDone, alone.code, alone.talk)
			require.Equal(t, named.out, alone.out)
			require.Contains(t, alone.talk, "a dry run: nothing is sent to five-line")
			require.Contains(t, named.talk, "a dry run: nothing is sent to bench:device")

			got := b.run(t, dry...)
			require.Equal(t, exitMisused, got.code)
			require.Contains(t, got.talk, "which device? Give --rig or --device; see")
			got = b.run(t, append(command, "--device", "five-line")...)
			require.Equal(t, exitMisused, got.code)
			require.Contains(t, got.talk, "which device? Give --rig, or --device and --port")
			got = b.run(t, append(dry, "--device", "five-line", "--port", "nowhere")...)
			require.Equal(t, exitMisused, got.code, "a port that is named is looked at")
		}
		require.Equal(t, before, b.memories(t))
	})
}
