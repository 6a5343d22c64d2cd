package cli

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/midi/port"
	"echowright/midi/port/ports"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

func TestOnlyWhatDiffersIsWrittenUnlessAll(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		name := strings.TrimSpace(b.with(t, "backup", "--slots", "4-6").out)
		require.Equal(t, exitDone, b.with(t, "push", write(t, "fen.toml", someUnit), "--slot", "5").code)
		some := b.with(t, "restore", name, "--yes", "--json").decode(t)
		require.Equal(t, []any{5.0}, some["written"])
		require.Equal(t, "yes", some["verified"])
		require.NotContains(t, some, "broken")
		all := b.with(t, "restore", name, "--all", "--json", "--yes").decode(t)
		require.Equal(t, []any{4.0, 5.0, 6.0}, all["written"])
		require.NotEmpty(t, all["snapshot"])
	})
}

func TestARestoreThatIsBrokenOffSaysWhereAndCanBeFinished(t *testing.T) {
	// Three pushes are three writes to the memory, so the fifth is the restore's second.
	ill := emulator.Options{Faults: emulator.Faults{RefuseWrites: 5}}
	for _, asJSON := range []bool{false, true} {
		onBench(t, ill, func(t *testing.T, b bench) {
			before := b.memories(t)
			name := strings.TrimSpace(b.with(t, "backup", "--slots", "4-6").out)
			for _, slot := range []string{"4", "5", "6"} {
				require.Equal(t, exitDone, b.with(t, "push", write(t, "fen.toml", someUnit), "--slot", slot).code)
			}
			if !asJSON {
				got := b.with(t, "restore", name, "--yes")
				require.Equal(t, exitFailed, got.code)
				require.Contains(t, got.out, "written and verified: slot 4; what was overwritten is kept: ")
				require.Contains(t, got.out, "broken off at slot 5: it holds what it held before; not touched: slot 6\n")
				require.Contains(t, got.talk, "`echowright resume` finishes it")
			} else {
				got := b.with(t, "restore", name, "--yes", "--json", "-q")
				got.code = exitDone // the result is whole all the same
				broken := hasFields(t, got.decode(t)["broken"], "slot", "holds", "untouched", "intent")
				require.Equal(t, "before", broken["holds"])
				require.Equal(t, []any{6.0}, broken["untouched"])
			}
			require.Equal(t, exitDone, b.run(t, "resume").code)
			require.Equal(t, before, b.memories(t))
		})
	}
}

func TestWhereARestoreWasBrokenOffInWords(t *testing.T) {
	for want, b := range map[string]brokenView{
		"broken off at slot 5: it holds what it was to hold":                                       {Slot: 5, Holds: "asked"},
		"broken off at slot 5: it may hold the old, the new, or half of each; not touched: slot 6": {Slot: 5, Holds: "unknown", Untouched: []int{6}},
	} {
		require.Equal(t, want, brokenWords(b))
	}
	require.Equal(t, "written and verified: no slot", restoredWords("x", restoredView{Broken: &brokenView{}}))
}

func TestWhatWasSentIsSentAgain(t *testing.T) {
	onBenchOf(t, "tap-loop", emulator.Options{}, func(t *testing.T, b bench) {
		fen, moor := write(t, "fen.toml", someUnit), write(t, "moor.toml", strings.Replace(someUnit, "200.0", "310.0", 1))
		require.Equal(t, exitDone, b.with(t, "push", fen, "--slot", "3").code)
		b.settle()
		stored := b.device.Image()
		require.Equal(t, exitDone, b.with(t, "push", moor, "--slot", "3").code)
		b.settle()
		require.NotEqual(t, string(stored), string(b.device.Image()))

		got := b.with(t, "restore", "2026-03-14-193000-tap-loop", "--yes")
		require.Equal(t, exitDone, got.code, got.talk)
		require.Contains(t, got.talk, "slot 3: what it holds cannot be read; what was sent to it is sent again\n")
		require.Contains(t, got.out, "sent: slot 3; the device cannot be read, so only your ear can tell what it holds")
		b.settle()
		require.Equal(t, string(stored), string(b.device.Image()))
	})
}

// settle lets the device end what it does when its caller has left.
func (b bench) settle() {
	time.Sleep(time.Second) // of the bubble's time
	b.device.Run(time.Now())
}

// keepHowling files what can howl as if it had been sent.
func keepHowling(t *testing.T, e Env) (name string) {
	t.Helper()
	d, howl := howling(t)
	steps, err := d.PushSteps(d.Manners.FirstUnit, 3, howl)
	require.NoError(t, err)
	var messages []byte
	for _, s := range steps {
		messages = append(messages, s.Send...)
	}
	shelf, err := library.Open(e.Getenv("ECHOWRIGHT_HOME"), e.Now)
	require.NoError(t, err)
	name, err = shelf.WriteSnapshot(t.Context(), library.Snapshot{
		Device: d.Name, Profile: d.Source(), Port: "x:y", UnitNumber: d.Manners.FirstUnit, Taken: e.Now(), Sent: true, Complete: true,
		Slots: []library.SnapshotSlot{{Slot: 3, Messages: messages}},
	})
	require.NoError(t, err)
	return name
}

func TestALoopThatHowlsIsNotPutBack(t *testing.T) {
	onBenchOf(t, "tap-loop", emulator.Options{}, func(t *testing.T, b bench) {
		before := string(b.device.Image())
		restore := []string{"restore", keepHowling(t, b.Env)}
		for _, how := range []string{"--yes", "--dry-run"} {
			got := b.with(t, append(restore, how)...)
			require.Equal(t, exitFailed, got.code)
			require.Contains(t, got.talk, "the loop's gain can reach +0.8 dB a turn")
			require.Empty(t, got.out)
		}
		b.settle()
		require.Equal(t, before, string(b.device.Image()))

		got := b.with(t, append(restore, "--allow-runaway", "--yes")...)
		require.Equal(t, exitDone, got.code, got.talk)
		require.Contains(t, got.talk, "warning: slot 3: the loop's gain can reach +0.8 dB a turn")
		b.settle()
		require.NotEqual(t, before, string(b.device.Image()))
	})
}

func TestADryRestoreNeedsNoDevice(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		name := strings.TrimSpace(b.with(t, "backup", "--slots", "4-6").out)
		e := b.Env
		e.Ports = ports.Openers{"far": func(context.Context, string) (port.Port, error) { return nil, errors.New("the port was opened") }}
		dry := []string{"restore", name, "--device", "five-line", "--port", "far:away", "--slots", "4,6", "--dry-run"}
		got := e.run(t, dry...)
		require.Equal(t, exitDone, got.code, got.talk)
		require.Contains(t, got.talk, "a dry run: nothing is sent to far:away")
		require.Contains(t, got.out, "write slot 4, 118 bytes:")
		require.NotContains(t, got.out, "slot 5")
		v := e.run(t, append(dry, "--json")...).decode(t)
		require.Equal(t, []any{4.0, 6.0}, v["slots"])
		require.Len(t, v["message"], 2)
	})
}

func TestForcedIntoAnotherModel(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		name := strings.TrimSpace(b.with(t, "backup", "--slots", "1").out)
		text := strings.Replace(string(fiveLine(t).Source()), `title = "Five delay`, `title = "Six delay`, 1)
		_, err := profiles.Parse("changed.toml", []byte(text))
		require.NoError(t, err)
		restore := []string{"restore", name, "--device", write(t, "changed.toml", text), "--port", "bench:device", "--slot", "1", "--to", "2"}
		require.Equal(t, exitFailed, b.run(t, restore...).code)
		require.NotEqual(t, b.slot(t, 1), b.slot(t, 2))
		got := b.run(t, append(restore, "--force", "--yes")...)
		require.Equal(t, exitDone, got.code, got.talk)
		require.Contains(t, got.talk, ": forced all the same")
		require.Equal(t, b.slot(t, 1), b.slot(t, 2))
	})
}
