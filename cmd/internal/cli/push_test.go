package cli

import (
	"bytes"
	"context"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/midi/port/ports"
	"echowright/preset"
	"echowright/profiles/arrange"
	"echowright/profiles/emulator"
)

func TestWhichOfTheTwoASlotHolds(t *testing.T) {
	for _, c := range []struct {
		name  string
		ill   emulator.Faults
		code  int
		holds string
		says  string
		open  bool // it stays in the journal
	}{
		{"asked", emulator.Faults{}, exitDone, "asked", "slot 5 holds fen-disc now: read back and verified\n", false},
		{"before, since nothing was stored", emulator.Faults{FalseStore: emulator.Every}, exitDifferent, "before",
			"slot 5 holds what it held before, read back and verified\n", false},
		{"before, put back", emulator.Faults{Keep: []int{0}}, exitDifferent, "before",
			"slot 5 holds what it held before, read back and verified\n", false},
		{"unknown, since it died", emulator.Faults{DieAfter: 2}, exitNoAnswer, "unknown",
			"whether slot 5 holds the old or the new, or half of each, is not known\n", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			unit := write(t, "fen.toml", someUnit)
			onBench(t, emulator.Options{Faults: c.ill}, func(t *testing.T, b bench) {
				old := b.slot(t, 5)
				got := b.with(t, "push", unit, "--slot", "5")
				require.Equal(t, c.code, got.code, got.talk)
				require.Contains(t, got.out, c.says)
				require.Contains(t, got.out, "; what the slot held before is kept: 2026-03-14-193000-five-line")
				if c.holds == "before" {
					require.Equal(t, old, b.slot(t, 5))
				}
				require.Equal(t, c.open, strings.Contains(b.run(t, "device", "list").talk, "`echowright resume` finishes it"))
			})
			onBench(t, emulator.Options{Faults: c.ill}, func(t *testing.T, b bench) {
				got := b.with(t, "push", unit, "--slot", "5", "--json", "-q")
				got.code = exitDone // the result is whole all the same
				require.Equal(t, c.holds, got.decode(t)["holds"])
			})
		})
	}
}

func TestWhatASlotHoldsAlreadyIsNotWritten(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		push := []string{"push", write(t, "fen.toml", someUnit), "--slot", "5"}
		require.Equal(t, exitDone, b.with(t, push...).code)
		shelf := b.shelf(t)
		again := b.with(t, push...)
		require.Contains(t, again.out, "nothing to write: slot 5 holds fen-disc already, read back and compared\n2 messages, 14 bytes, ")
		require.Equal(t, shelf, b.shelf(t), "nothing is kept where nothing is overwritten")
		require.Contains(t, b.with(t, append(push, "--all")...).out, "slot 5 holds fen-disc now: read back and verified\n")
		require.Greater(t, len(b.shelf(t)), len(shelf))
	})
}

func TestALoudSlotIsAnnounced(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		push := []string{"push", write(t, "fen.toml", someUnit), "--slot", "5"}
		require.NotContains(t, b.with(t, push...).talk, "caution")
		loaded := b.with(t, append(push, "--load")...)
		require.Contains(t, loaded.talk, "caution: slot 5 sounds next, and it can be loud: turn your monitors down\n")
		require.Contains(t, loaded.out, "nothing to write: slot 5 holds fen-disc already, read back and compared\nslot 5 sounds now\n")
		sounding := b.slot(t, emulator.EditBuffer)
		require.True(t, bytes.Equal(sounding, b.slot(t, 5)))
		require.Equal(t, true, b.with(t, append(push, "--load", "--json")...).decode(t)["loaded"])
		require.Contains(t, b.with(t, append(push, "--load", "-q")...).talk, "caution: slot 5 sounds next", "ears are in danger also where it is quiet")
	})
}

// A push to a device that says nothing ends with what is to be done by ear.
func TestADeviceThatCannotBeRead(t *testing.T) {
	for _, model := range []string{"twin", "tap-loop"} {
		onBenchOf(t, model, emulator.Options{}, func(t *testing.T, b bench) {
			unit, before := write(t, "fen.toml", someUnit), b.device.Image()
			first := b.with(t, "push", unit, "--slot", "3")
			require.Equal(t, exitDone, first.code, first.talk)
			b.settle()
			require.False(t, bytes.Equal(before, b.device.Image()), "it was stored")
			require.Contains(t, first.talk, "nothing was sent to it over bench:device from here yet: what it holds now cannot be put back")
			require.Contains(t, first.out, "fen-disc was sent into slot 3: the device cannot be read, so only your ear can tell whether it holds it")
			require.NotContains(t, first.out, "is kept: 2026")
			require.Regexp(t, `(?m)^1\. turn your monitors down`, first.out)
			require.Regexp(t, `(?m)^5\. after 200\.\d ms: an echo, `, first.out)

			second := b.with(t, "push", unit, "--slot", "3", "--json").decode(t)
			require.Equal(t, "unreadable", second["verified"])
			require.Equal(t, "asked", second["holds"])
			require.Equal(t, "2026-03-14-193000-"+model, second["snapshot"], "what was last sent before")
			require.Contains(t, second["checklist"].([]any)[2], "play one short note")
			require.Contains(t, b.with(t, "read", "--slot", "3").out, "last known")
			require.Equal(t, exitMisused, b.with(t, "backup").code)
		})
	}
}

// What is not sent to a device is not sent to a file or shown either, if it can howl.
func TestARunawayLoopIsRefusedWithoutADeviceToo(t *testing.T) {
	d, howl := howling(t)
	p := planned{unit: preset.Unit{Name: "fen-disc"}, device: d, Result: arrange.Result{Setting: howl}}
	for _, port := range []string{"tap:there", "file:" + t.TempDir() + "/out.syx"} {
		var out, talk bytes.Buffer
		c := &call{Env: Env{Ports: ports.Builtin()}}
		c.out.Writer, c.talk.Writer = &out, &talk
		to := target{address: address{device: d, unit: d.Manners.FirstUnit}, port: port}
		o := pushOptions{slot: 3, dryRun: strings.HasPrefix(port, "tap")}
		err := c.pushUnsent(t.Context(), to, p, o)
		require.ErrorContains(t, err, "the loop's gain can reach +0.8 dB a turn")
		require.ErrorContains(t, err, "--allow-runaway")
		require.Equal(t, exitFailed, exitCode(err))
		require.Empty(t, out.String())

		o.allowRunaway = true
		require.NoError(t, c.pushUnsent(t.Context(), to, p, o))
		require.Contains(t, talk.String(), "warning: slot 3: the loop's gain can reach +0.8 dB a turn")
		require.NotEmpty(t, out.String())
	}
}

func TestADryRunShowsWhatIsTurnedDownBeforeTheLoad(t *testing.T) {
	got := world(t).run(t, "push", write(t, "fen.toml", someUnit), "--device", "five-line", "--port", "raw:/nowhere", "--slot", "5", "--dry-run", "--load")
	require.Equal(t, exitDone, got.code, got.talk)
	written, down, loaded := strings.Index(got.out, "write slot 5"), strings.Index(got.out, "a-feedback"), strings.LastIndex(got.out, "load slot 5")
	require.Positive(t, written)
	require.Greater(t, down, written)
	require.Greater(t, loaded, down)
}

// An interrupted is a port on which Ctrl-C comes when something has been sent.
type interrupted struct {
	port.Port
	interrupt func()
}

func (i interrupted) Send(ctx context.Context, b []byte) error {
	defer i.interrupt()
	return i.Port.Send(ctx, b)
}

// Half a setting that looks like a whole file is worse than none.
func TestAFileGetsAllOfAPushOrNothing(t *testing.T) {
	for _, model := range []string{"five-line", "open-parameter", "tap-loop", "twin"} {
		e, folder := world(t), t.TempDir()
		push := []string{"push", write(t, "fen.toml", someUnit), "--device", model, "--slot", "5", "-q", "--port"}
		whole, broken := filepath.Join(folder, "whole.syx"), filepath.Join(folder, "broken.syx")
		require.Equal(t, exitDone, e.run(t, append(push, "file:"+whole)...).code, model)

		ctx, interrupt := context.WithCancel(t.Context())
		open := e.Ports["file"]
		e.Ports["file"] = func(ctx context.Context, rest string) (port.Port, error) {
			p, err := open(ctx, rest)
			return interrupted{p, interrupt}, err
		}
		e.Args = append(push, "file:"+broken)
		require.Equal(t, exitDone, Run(ctx, e), model)
		require.Equal(t, readAll(t, whole), readAll(t, broken), model)
	}
}
