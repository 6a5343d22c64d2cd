package cli

import (
	"bytes"
	"context"
	"io"
	"strings"
	"testing"

	"github.com/creack/pty"
	"github.com/stretchr/testify/require"

	"echowright/library/exchange"
	"echowright/midi/port"
	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/arrange"
	"echowright/profiles/emulator"
)

// endings lists what became of each song, in the order of the set.
func endings(t *testing.T, v map[string]any) (all []string) {
	t.Helper()
	for _, s := range v["song"].([]any) {
		all = append(all, s.(map[string]any)["ended"].(string))
	}
	return all
}

// notes are those of the snapshots, oldest first.
func (b bench) notes(t *testing.T) (all []string) {
	t.Helper()
	for _, s := range b.run(t, "snapshot", "list", "--json", "-q").decode(t)["snapshot"].([]any) {
		note, _ := s.(map[string]any)["note"].(string)
		all = append(all, note)
	}
	return all
}

func TestASetIsWrittenAndReadBack(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		before := b.memories(t)
		sheet := writeSet(t, ebb)
		v := b.with(t, "songs", "push", sheet, "--yes", "--json", "-q").decode(t)
		hasFields(t, v, "sheet", "snapshot", "song", "messages", "bytes", "seconds")
		require.Equal(t, []string{"written", "written", "written"}, endings(t, v))
		hasFields(t, first(t, v["song"]), "title", "ended", "slot_before", "slot", "verified", "holds", "snapshot", "differences", "messages", "bytes", "seconds")
		require.Equal(t, "backup", b.notes(t)[0], "all slots are kept before the first is written")

		// What each slot plays, by the emulator's own account: 60000/BPM a quarter.
		for slot, want := range map[string]struct {
			name  string
			echo  float64 // ms of the first
			level float64 // dB
		}{
			"4": {"Flood", 250, -3}, "9": {"Slack Water", 340.909, 0},
			// Both heads on an eighth at 97 BPM: the amplitudes add up to 10^(−3/20) + 1, +4.65 dB
			// over the louder, which no level reaches: the device plays it as loud as it can.
			"6": {"Ebb", 309.278, 0},
		} {
			read := b.with(t, "read", "--slot", slot, "--json", "-q").decode(t)
			require.Equal(t, want.name, read["name"])
			echo := read["echo"].([]any)[0].(map[string]any)
			require.InDelta(t, want.echo, echo["ms"], 0.05+1e-9, "half a step of the device")
			if slot != "6" {
				require.InDelta(t, want.level, echo["db"], 0.5, "a step of the device")
			}
		}
		for slot, m := range b.memories(t) {
			touched := slot-1 == 4 || slot-1 == 6 || slot-1 == 9 // the first is the edit buffer
			require.Equal(t, touched, !bytes.Equal(before[slot], m), "slot %d", slot-1)
		}
		require.Equal(t, exitDone, b.with(t, "restore", v["snapshot"].(string), "--yes").code)
		require.Equal(t, before, b.memories(t), "the one snapshot puts all of them back, byte for byte")
	})
}

func TestWhatIsThereIsNotSentAgain(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		sheet := writeSet(t, ebb)
		require.Contains(t, b.with(t, "songs", "plan", sheet, "--look").out, "would be overwritten: slots 4, 9, 6")
		require.Equal(t, exitDone, b.with(t, "songs", "push", sheet, "--yes").code)
		held := b.memories(t)
		v := b.with(t, "songs", "push", sheet, "--yes", "--json").decode(t)
		require.Equal(t, []string{"same", "same", "same"}, endings(t, v))
		require.Equal(t, held, b.memories(t))
		looked := b.with(t, "songs", "plan", sheet, "--look")
		require.Contains(t, looked.out, "nothing would be overwritten: all slots hold their songs")
		require.Equal(t, 3, strings.Count(looked.out, "this song already"))

		// One song has changed since.
		quicker := writeSet(t, strings.Replace(ebb, "tempo_bpm = 132", "tempo_bpm = 134", 1))
		v = b.with(t, "songs", "plan", quicker, "--look", "--json", "-q").decode(t)
		require.Equal(t, map[string]any{"name": "Slack Water", "setting": true, "same": false}, v["song"].([]any)[1].(map[string]any)["holds"])
		got := b.with(t, "songs", "push", quicker, "--yes")
		require.Contains(t, got.talk, `slot 9, for "Slack Water", holds: Slack Water`)
		require.NotContains(t, got.talk, "slot 4,")
		require.Contains(t, got.out, "1 written, 2 held their song already, 0 not written; ")
	})
}

func TestASetThatIsBrokenOffGoesOnWhereItEnded(t *testing.T) {
	for _, c := range []struct {
		name string
		ill  emulator.Faults
		code int
		says string
	}{
		{"a slot refused", emulator.Faults{RefuseWrites: 2}, exitFailed, "the memory is write-protected"},
		{"a slot not stored, at both tries", emulator.Faults{FalseStore: emulator.Every}, exitDifferent, "but then held something else"},
	} {
		t.Run(c.name, func(t *testing.T) {
			onBench(t, emulator.Options{Faults: c.ill}, func(t *testing.T, b bench) {
				before := b.memories(t)
				sheet := writeSet(t, ebb)
				got := b.with(t, "songs", "push", sheet, "--yes", "--json", "-q")
				require.Equal(t, c.code, got.code, got.talk)
				require.Contains(t, got.talk, c.says)
				require.Contains(t, got.talk, "left: ")
				require.Contains(t, got.talk, "the same command goes on with what is not there yet")
				got.code = exitDone // the result is whole all the same
				v := got.decode(t)
				ended := endings(t, v)
				require.Contains(t, ended, "before")
				require.Equal(t, "left", ended[2])
				now := b.memories(t)
				require.Equal(t, before[1+6], now[1+6], "its turn did not come")
				require.Equal(t, ended[0] == "written", !bytes.Equal(before[1+4], now[1+4]))
				require.Equal(t, before[1+9], now[1+9])
			})
		})
	}
	// A restart takes the device away for 1.5 s, which is longer than it is asked who it is.
	for _, ill := range []emulator.Faults{{RefuseWrites: 2}, {Reboot: 9}} {
		onBench(t, emulator.Options{Faults: ill}, func(t *testing.T, b bench) {
			sheet := writeSet(t, ebb)
			require.NotEqual(t, exitDone, b.with(t, "songs", "push", sheet, "--yes").code)
			v := b.with(t, "songs", "push", sheet, "--yes", "--json").decode(t)
			require.Equal(t, []string{"same", "written", "written"}, endings(t, v))
		})
	}
}

// TestWhatIllDevicesDoWithASet gives a set to devices that fail: the exit code says
// how, and unless all is well no slot holds anything but its song or what it held.
func TestWhatIllDevicesDoWithASet(t *testing.T) {
	every := emulator.Every
	for _, c := range []struct {
		name string
		ill  emulator.Options
		code int
		says string
	}{
		{"mute", emulator.Options{Faults: emulator.Faults{Mute: true}}, exitNoAnswer, "nothing was written"},
		{"another model", emulator.Options{Faults: emulator.Faults{WrongIdentity: true}}, exitFailed, "choose the profile of the device that is there"},
		{"write-protected", emulator.Options{WriteProtected: true}, exitFailed, `song "Flood": `},
		{"keeps a time", emulator.Options{Faults: emulator.Faults{Keep: []int{0}}}, exitDifferent, `song "Flood": `},
		{"all answers damaged", emulator.Options{Faults: emulator.Faults{CorruptAnswer: every}}, exitFailed, "nothing was written"},
		{"dead after two slots", emulator.Options{Faults: emulator.Faults{DieAfter: 3}}, exitNoAnswer, "nothing was written"},
		{"an answer lost", emulator.Options{Faults: emulator.Faults{LoseAnswer: 6}}, exitDone, ""},
		{"noise between", emulator.Options{Faults: emulator.Faults{Rubbish: every}}, exitDone, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			onBench(t, c.ill, func(t *testing.T, b bench) {
				before := b.memories(t)
				got := b.with(t, "songs", "push", writeSet(t, ebb), "--yes", "-q")
				require.Equal(t, c.code, got.code, got.talk)
				require.Contains(t, got.talk, c.says)
				require.LessOrEqual(t, strings.Count(got.talk, "echowright: "), 1, "an error is told once")
				if c.code != exitDone {
					require.Equal(t, before, b.memories(t), "the first song already fails")
				}
			})
		})
	}
}

// stopping is a port on which Ctrl-C is pressed when so many messages have been sent.
type stopping struct {
	port.Port
	left *int
	stop func()
}

func (p stopping) Send(ctx context.Context, message []byte) error {
	if *p.left--; *p.left == 0 {
		p.stop()
	}
	return p.Port.Send(ctx, message)
}

func TestCtrlCInASetLeavesWhatIsDone(t *testing.T) {
	for sent := 1; sent <= 18; sent++ {
		onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
			before := b.memories(t)
			sheet := writeSet(t, ebb)
			ctx, stop := context.WithCancel(t.Context())
			defer stop()
			open, left := b.Ports["bench"], sent
			b.Ports["bench"] = func(ctx context.Context, name string) (port.Port, error) {
				p, err := open(ctx, name)
				return stopping{p, &left, stop}, err
			}
			var talk bytes.Buffer
			e := b.Env
			e.Args, e.Stdout, e.Stderr = []string{"songs", "push", sheet, "--yes", "--device", "five-line", "--port", "bench:device"}, io.Discard, &talk
			code := Run(ctx, e)
			if code != exitDone {
				require.Equal(t, exitFailed, code, talk.String())
				require.Contains(t, talk.String(), "interrupted: ")
			}
			now := b.memories(t)
			b.Ports["bench"] = open
			v := b.with(t, "songs", "push", sheet, "--yes", "--json", "-q").decode(t)
			for i, slot := range []int{4, 9, 6} {
				written := endings(t, v)[i] == "same"
				require.Equal(t, written, !bytes.Equal(before[1+slot], now[1+slot]), "a slot holds its song or what it held: after %d messages, slot %d", sent, slot)
			}
			require.Empty(t, b.run(t, "resume", "--list", "--json", "-q").decode(t)["intent"], "nothing is left open")
		})
	}
}

func TestASetIsNotWrittenWithoutAYes(t *testing.T) {
	leader, follower, err := pty.Open()
	if err != nil {
		t.Skipf("SKIP: no pseudo-terminal here: %v", err)
	}
	defer leader.Close()
	defer follower.Close()
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		before := b.memories(t)
		sheet := writeSet(t, ebb)
		b.Stdin = follower
		_, err := io.WriteString(leader, "n\n")
		require.NoError(t, err)
		got := b.with(t, "songs", "push", sheet)
		require.Equal(t, exitFailed, got.code)
		require.Contains(t, got.talk, "Write 3 slots of five-line? [y/N] ")
		require.Contains(t, got.talk, "nothing was written: not agreed to")
		require.Equal(t, before, b.memories(t))

		_, err = io.WriteString(leader, "y\n")
		require.NoError(t, err)
		require.Equal(t, exitDone, b.with(t, "songs", "push", sheet).code)
		require.NotEqual(t, before, b.memories(t))
		require.NotContains(t, b.with(t, "songs", "push", sheet).talk, "[y/N]", "there is nothing to agree to")
	})
}

// TestASetThatHowlsIsRefusedAsAWhole gives one song of two a loop that grows.
func TestASetThatHowlsIsRefusedAsAWhole(t *testing.T) {
	d, err := profiles.Shipped("tap-loop") // the feedback of a five-line unit ends below unity
	require.NoError(t, err)
	quiet := d.Rest()
	howling := quiet.Clone()
	for i, p := range d.Parameters {
		if p.Role == profiles.RoleFeedback || p.Role == profiles.RoleLevel {
			howling.Codes[i] = p.Scale.High()
		}
	}
	require.GreaterOrEqual(t, d.LoopGain(howling), preset.Decibels(0), "or this would be no test")
	song := func(title string, s profiles.Setting) plannedSong {
		p := plannedSong{Result: arrange.Result{Setting: s}}
		p.Title = title
		return p
	}
	set := &plannedSet{device: d, songs: []plannedSong{song("Slack", quiet), song("Bore", howling)}}
	c := &call{}
	err = set.checkRunaway(c, false)
	require.ErrorContains(t, err, `song "Bore": slot 0: the loop's gain can reach `)
	require.NotContains(t, err.Error(), "Slack")
	var runaway *exchange.RunawayError
	require.ErrorAs(t, err, &runaway)
	require.NoError(t, set.checkRunaway(c, true))
}

func TestNothingOfASetIsSentIfOneSongCannotBe(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		before := b.memories(t)
		got := b.with(t, "songs", "push", writeSet(t, strings.Replace(ebb, "slot = 6", "slot = 64", 1)))
		require.Equal(t, exitFailed, got.code)
		require.Equal(t, before, b.memories(t))
		require.Empty(t, b.shelf(t))
	})
}

func TestADryRunOfASetNeedsNoDevice(t *testing.T) {
	sheet := writeSet(t, ebb)
	got := world(t).run(t, "songs", "push", sheet, "--device", "five-line", "--port", "raw:/nowhere", "--dry-run", "--json")
	require.Contains(t, got.talk, "a dry run: nothing is sent to raw:/nowhere")
	planned := world(t).run(t, "songs", "plan", sheet, "--device", "five-line", "--json", "-q")
	require.Equal(t, planned.out, got.out)
}

func TestASetForADeviceThatCannotBeRead(t *testing.T) {
	e, push := world(t), []string{"songs", "push", writeSet(t, ebb), "--device", "twin", "--port", "emulator:twin"}
	unasked := e.run(t, push...)
	require.Equal(t, exitMisused, unasked.code)
	require.Contains(t, unasked.talk, "Write 3 slots of twin? [y/N] \nechowright: nothing was written: not agreed to, and there is no terminal to ask at: give --yes\n")
	require.Empty(t, unasked.out)

	got := e.run(t, append(push, "--yes")...)
	require.Equal(t, exitDone, got.code, got.talk)
	require.Contains(t, got.talk, `slot 4, for "Flood": what it holds cannot be read`)
	require.Equal(t, 3, strings.Count(got.out, "its song: sent, but it cannot be read back"))
	require.Contains(t, got.out, "3 written, 0 held their song already, 0 not written; ")
	require.NotContains(t, got.out, "is kept: ", "there is no snapshot of what cannot be read")
}

// TestADeviceThatDiesInASetAndComesBack lets it die at any message behind the backup:
// what its songs then need is what the program says, and nothing else.
func TestADeviceThatDiesInASetAndComesBack(t *testing.T) {
	unknown := 0
	for taken := 5; taken <= 14; taken++ { // of 5 for the backup, and 3 or more for each song
		onBench(t, emulator.Options{Faults: emulator.Faults{DieAfter: taken}}, func(t *testing.T, b bench) {
			before := b.memories(t)
			sheet := writeSet(t, ebb)
			died := b.with(t, "songs", "push", sheet, "--yes")
			if died.code == exitDone {
				return
			}
			require.Equal(t, exitNoAnswer, died.code, died.talk)
			b = b.repaired(t)
			if strings.Contains(died.talk, "after `echowright resume` the same command") {
				unknown++
				refused := b.with(t, "songs", "push", sheet, "--yes")
				require.Equal(t, exitFailed, refused.code, refused.talk)
				require.Contains(t, refused.talk, "`echowright resume` finishes it first")
				require.Equal(t, exitDone, b.run(t, "resume").code)
			}
			again := b.with(t, "songs", "push", sheet, "--yes", "--json", "-q").decode(t)
			for _, s := range again["song"].([]any) {
				require.Equal(t, "yes", s.(map[string]any)["verified"])
			}
			for slot, m := range b.memories(t) {
				touched := slot-1 == 4 || slot-1 == 6 || slot-1 == 9 // the first is the edit buffer
				require.Equal(t, touched, !bytes.Equal(before[slot], m), "slot %d", slot-1)
			}
		})
	}
	require.Positive(t, unknown, "or nothing of this was tried")
}

// TestASetHasOneBackup looks at the library behind a set, and puts all back from it.
func TestASetHasOneBackup(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		sheet := writeSet(t, ebb)
		before := b.memories(t)
		v := b.with(t, "songs", "push", sheet, "--yes", "--json", "-q").decode(t)
		require.Equal(t, []string{"backup"}, b.notes(t))
		for _, s := range v["song"].([]any) {
			require.Equal(t, v["snapshot"], s.(map[string]any)["snapshot"])
		}
		require.Equal(t, exitDone, b.with(t, "restore", v["snapshot"].(string), "--yes").code)
		require.Equal(t, before, b.memories(t))
	})
}

// TestWhatCannotBeHadIsToldBeforeItIsWritten asks for a whole note at 46 BPM, 5.2 s:
// a five-line unit's longest delay is 1600 ms, by its manual.
func TestWhatCannotBeHadIsToldBeforeItIsWritten(t *testing.T) {
	slow := strings.Replace(strings.Replace(ebb, "tempo_bpm = 132", "tempo_bpm = 46", 1), `"1/8."`, `"1/1"`, 1)
	sheet := writeSet(t, slow)
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		got := b.with(t, "songs", "push", sheet, "--yes")
		require.Equal(t, exitDone, got.code, got.talk)
		require.Contains(t, got.talk, "Slack Water: no motor would run the unit at ")
		require.Contains(t, got.talk, "Slack Water: cannot be had: ")
		require.NotContains(t, got.talk, "Flood: cannot be had")
	})
}
