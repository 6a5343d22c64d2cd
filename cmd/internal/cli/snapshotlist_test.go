package cli

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/profiles/emulator"
)

func TestWhatASnapshotIsInWords(t *testing.T) {
	taken := time.Date(2026, 3, 14, 19, 30, 0, 0, time.UTC)
	held := func(numbers ...int) (slots []library.SnapshotSlot) {
		for _, n := range numbers {
			slots = append(slots, library.SnapshotSlot{Slot: n})
		}
		return slots
	}
	for _, c := range []struct {
		name                       string
		s                          library.Snapshot
		standing, howMany, missing string
		origin                     string
	}{
		{"complete", library.Snapshot{Complete: true, Port: "raw:/dev/midi1", Slots: held(1, 2)},
			"complete", "2", "no slot are", "taken 2026-03-14 19:30:00 on raw:/dev/midi1"},
		{"partial", library.Snapshot{Port: "raw:/dev/midi1", Asked: []int{1, 2, 3}, Slots: held(2)},
			"partial", "1 of 3", "slots 1, 3 are", "taken 2026-03-14 19:30:00 on raw:/dev/midi1"},
		{"but for one", library.Snapshot{Port: "raw:/dev/midi1", Asked: []int{1, 2}, Slots: held(2)},
			"partial", "1 of 2", "slot 1 is", "taken 2026-03-14 19:30:00 on raw:/dev/midi1"},
		{"but for many", library.Snapshot{Port: "raw:/dev/midi1", Asked: []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}, Slots: held(2)},
			"partial", "1 of 10", "slots 0, 1, 3-9 are", "taken 2026-03-14 19:30:00 on raw:/dev/midi1"},
		{"last sent", library.Snapshot{Complete: true, Sent: true, Port: "emulator:twin", Slots: held(5)},
			"last sent", "1", "no slot are", "last sent 2026-03-14 19:30:00 to emulator:twin and not read: it never says what it holds"},
		{"out of a file", library.Snapshot{Complete: true, Port: "file:old.syx", Slots: held(5)},
			"complete", "1", "no slot are", "filed 2026-03-14 19:30:00, out of old.syx"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.s.Taken = taken
			v := viewSnapshot(c.s)
			require.Equal(t, []string{c.standing, c.howMany, c.missing, c.origin}, []string{v.standing(), v.howMany(), notThere(v.missing()), v.origin()})
		})
	}
}

func TestFieldsOfSnapshots(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		name := b.with(t, "backup", "--slots", "4,5", "--json").decode(t)["snapshot"].(string)
		listed := hasFields(t, first(t, b.run(t, "snapshot", "list", "--json").decode(t)["snapshot"]), "name", "device", "taken", "port", "unit", "slots", "complete")
		require.NotContains(t, listed, "asked", "only while something is missing")
		require.NotContains(t, listed, "sent")
		checked := hasFields(t, first(t, b.run(t, "snapshot", "check", "--json").decode(t)["snapshot"]), "name", "whole", "complete", "slots")
		require.Equal(t, 2.0, checked["slots"])
		diff := b.with(t, "snapshot", "diff", name, "--json").decode(t)
		hasFields(t, diff, "compared", "difference")

		home := b.Getenv("ECHOWRIGHT_HOME")
		slot := filepath.Join(home, "snapshots", name, "slot-05.syx")
		added := hasFields(t, b.run(t, "snapshot", "add", slot, "--device", "five-line", "--json").decode(t), "snapshot", "slots", "passed_over")
		require.Equal(t, []any{5.0}, added["slots"])
		require.Equal(t, []any{}, added["passed_over"])
		shown := b.run(t, "snapshot", "show", added["snapshot"].(string), "--json").decode(t)
		hasFields(t, first(t, shown["slot"]), "slot", "name", "echoes")
		require.Equal(t, "file:slot-05.syx", shown["port"])
		require.Equal(t, "out of slot-05.syx", shown["note"])
		again, err := os.ReadFile(filepath.Join(home, "snapshots", added["snapshot"].(string), "slot-05.syx"))
		require.NoError(t, err)
		require.Equal(t, readAll(t, slot), again, "byte for byte")
	})
}

// The name of a file may hold anything; what is kept of it is fit to be read.
func TestAFileWithAStrangeNameIsAdded(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		name := b.with(t, "backup", "--slots", "4", "--json").decode(t)["snapshot"].(string)
		dump := readAll(t, filepath.Join(b.Getenv("ECHOWRIGHT_HOME"), "snapshots", name, "slot-04.syx"))
		strange := write(t, "old\x1b[2J\n\u202edump.syx", string(dump))
		added := b.run(t, "snapshot", "add", strange, "--device", "five-line", "-q")
		require.Equal(t, exitDone, added.code, added.talk)
		list := b.run(t, "snapshot", "list")
		require.NotContains(t, list.out, "\x1b")
		require.Contains(t, list.out, `out of old\x1b[2J\n\u202edump.syx`)
	})
}
