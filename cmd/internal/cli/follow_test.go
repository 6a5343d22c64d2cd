package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/cmd/internal/ui"
	"echowright/library/exchange"
	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/transfer"
	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// follows runs the command beside a sequencer that plays so many beats at each of
// the tempi, one after the other, and ends it with Ctrl-C after that.
func (b bench) follows(t *testing.T, beats int, tempi []float64, args ...string) said {
	t.Helper()
	ctx, interrupt := context.WithCancel(t.Context())
	var playing sync.WaitGroup
	b.Now = time.Now
	b.Ports["sequencer"] = func(context.Context, string) (port.Port, error) {
		here, there := port.Pipe("sequencer:one")
		playing.Go(func() {
			defer interrupt()
			for _, tempo := range tempi {
				for range 24 * beats { // 24 clocks a beat (MIDI 1.0, page 30)
					_ = transfer.System().Sleep(ctx, time.Duration(60/tempo/24*float64(time.Second)))
					if there.Send(ctx, []byte{midi.TimingClock}) != nil {
						return
					}
				}
			}
		})
		return here, nil
	}
	var out, talk bytes.Buffer
	b.Args = append([]string{"follow", write(t, "fen.toml", someUnit), "--device", b.model, "--port", "bench:device", "--clock", "sequencer:one"}, args...)
	b.Stdout, b.Stderr = &out, &talk
	code := Run(ctx, b.Env)
	interrupt()
	playing.Wait()
	return said{out.String(), talk.String(), code}
}

// TestFollowInJSON: one object a line for each update, nothing else on stdout. A
// quarter has 500 ms at 120 BPM, 480 at 125 (60000/BPM).
func TestFollowInJSON(t *testing.T) {
	for _, model := range []string{"five-line", "tap-loop", "open-parameter"} {
		onBenchOf(t, model, emulator.Options{}, func(t *testing.T, b bench) {
			slots := b.memories(t)[1:] // all but what sounds
			got := b.follows(t, 6, []float64{120, 125}, "--note", "1/4", "--json")
			require.Equal(t, exitDone, got.code, got.talk)
			require.Equal(t, slots, b.memories(t)[1:], "no slot is written")
			var last map[string]any
			seconds := 0.0
			for _, line := range lines(got) {
				require.NoError(t, json.Unmarshal([]byte(line), &last), line)
				hasFields(t, last, "seconds", "bpm", "head", "halved", "sent", "messages", "bytes")
				hasFields(t, first(t, last["head"]), "head", "delay_ms")
				hasFields(t, first(t, last["sent"]), "parameter", "value", "unit", "code")
				require.Greater(t, last["seconds"], seconds)
				seconds = last["seconds"].(float64)
			}
			require.Greater(t, len(lines(got)), 1)
			require.InDelta(t, 125, last["bpm"], 125*0.025, "within what can be noticed")
			head := last["head"].([]any)[1].(map[string]any)
			require.InDelta(t, 480, head["delay_ms"], 480*0.025)
			require.Regexp(t, `the clock has 125\.00 BPM; `+model+` holds the times of 12[45]\.\d\d BPM: `, got.talk)
		})
	}
}

// TestFollowByItself: 200 and 400 ms at 150 BPM are an eighth and a quarter exactly;
// the device gets the clock and plays them.
func TestFollowByItself(t *testing.T) {
	onBenchOf(t, "twin", emulator.Options{}, func(t *testing.T, b bench) {
		got := b.follows(t, 6, []float64{150, 160}, "--json")
		require.Equal(t, exitDone, got.code, got.talk)
		require.Len(t, lines(got), 1, "it goes along by itself")
		var v map[string]any
		require.NoError(t, json.Unmarshal([]byte(got.out), &v))
		hasFields(t, first(t, v["note"]), "parameter", "note", "wanted_ms", "got_ms", "off_ms")
		sound, err := b.device.Sound(emulator.EditBuffer)
		require.NoError(t, err)
		echoes, err := sound.Echoes(-30, 1000)
		require.NoError(t, err)
		require.InDelta(t, 60_000/160.0/2, float64(echoes[0].At), 0.01, "an eighth at 160 BPM, to the rounding of time in nanoseconds")
	})
}

// TestFollowInWords: without --note it is the note nearest to the head as it was
// measured: 400 ms at 120 BPM lie nearest to a dotted eighth (375).
func TestFollowInWords(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		got := b.follows(t, 4, []float64{120})
		require.Equal(t, exitDone, got.code, got.talk)
		require.Contains(t, got.talk, "listening to the clock on sequencer:one; Ctrl-C ends it")
		require.Contains(t, got.talk, "120.0 BPM: head 3 on 1/8., at 1.067 of the speed it was measured at")
		all := lines(got)
		require.Len(t, all, 2)
		require.Regexp(t, `^ +1\.\d\d\d s +120\.00 BPM  head 1 187\.5 ms, head 3 375\.0 ms$`, all[0])
		require.Regexp(t, `^the clock has 120\.00 BPM; five-line holds the times of 120\.00 BPM: head 1 187\.5 ms, head 3 375\.0 ms; 1 update, \d+ messages in all$`, all[1])
	})
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		got := b.follows(t, 1, []float64{120}, "--head", "1", "--heads", "1", "-q")
		require.Equal(t, exitDone, got.code)
		require.Equal(t, "no tempo was known from sequencer:one; nothing was set\n", got.out)
		require.Empty(t, got.talk)
	})
}

// TestWhatFollowRefuses, each with exit code 2, and a device that is not there with 4.
func TestWhatFollowRefuses(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		unit := write(t, "fen.toml", someUnit)
		for _, c := range []struct{ args, says string }{
			{"--clock=tcp:", "--clock: "},
			{"--clock=bench:device", "is the device's own port"},
			{"--clock=file:x.syx", "no clock comes out of a file"},
			{"--clock=emulator:twin --note=1/3", "no such note value"},
			{"--clock=emulator:twin --head=7", "--head 7: unit \"fen-disc\" has heads [1 3]"},
			{"--clock=emulator:twin --heads=7", "has no head 7"},
			{"--clock=emulator:twin --prefer=all", "--prefer all: there are first-set"},
			{"", "--clock is missing"},
		} {
			got := b.with(t, append([]string{"follow", unit}, strings.Fields(c.args)...)...)
			require.Equal(t, exitMisused, got.code, c.args)
			require.Contains(t, got.talk, c.says)
			require.Empty(t, got.out)
		}
	})
	onBench(t, emulator.Options{Faults: emulator.Faults{Mute: true}}, func(t *testing.T, b bench) {
		got := b.follows(t, 4, []float64{120})
		require.Equal(t, exitNoAnswer, got.code)
		require.Empty(t, got.out)
	})
}

func TestTwoNamesOfOnePort(t *testing.T) {
	folder := t.TempDir()
	one, other := filepath.Join(folder, "one"), filepath.Join(folder, "other")
	link := filepath.Join(folder, "link")
	require.NoError(t, os.WriteFile(one, nil, 0o600))
	require.NoError(t, os.WriteFile(other, nil, 0o600))
	require.NoError(t, os.Symlink(one, link))
	for _, c := range []struct {
		a, b string
		same bool
	}{
		{"raw:" + one, "raw:" + one, true},
		{"raw:" + one, "raw:" + link, true},
		{"raw:" + one, "raw:" + folder + "/./one", true},
		{"raw:" + one, "raw:" + other, false},
		{"raw:" + one, "unix:" + one, false},
		{"unix:" + link, "unix:" + one, true},
		{"raw:" + one, "raw:" + folder + "/none", false},
		{"os:Sequencer", "os:Sequencer", true},
		{"os:Sequencer", "os:Delay", false},
		{"tcp:host:1", "tcp:host:2", false},
		{"tcp:host:1", "tcp:other:1", false},
		{"tcp:host:1", "tcp:HOST:1", true},
		{"tcp:localhost:1", "tcp:127.0.0.1:1", true},
		{"tcp:localhost:1", "tcp:[::1]:1", true},
		{"tcp:localhost:1", "tcp:192.0.2.1:1", false}, // an address for examples (RFC 5737)
		{"tcp:localhost:1", "unix:localhost:1", false},
		{"tcp:nowhere", "tcp:elsewhere", false},
	} {
		require.Equal(t, c.same, samePort(c.a, c.b), "%s and %s", c.a, c.b)
	}
}

// TestTheTempoStandsInALineOfItsOwn, on a terminal only: the next line takes it away.
func TestTheTempoStandsInALineOfItsOwn(t *testing.T) {
	for _, width := range []int{0, 80} {
		var out, talk bytes.Buffer
		c := &call{out: ui.Plain(&out), talk: ui.Screen{Writer: &talk, Width: width}}
		s := followShow{call: c, clock: "os:one", device: &profiles.Device{Name: "box"}}
		s.tempo(120)
		s.tempo(121.5)
		s.said("the clock is back")
		s.tempo(122)
		require.NoError(t, s.updated(exchange.FollowUpdate{At: 1500 * time.Millisecond, Tempo: 122, Halved: 1, Heads: []exchange.HeadTime{{Head: 2, Delay: 245.9}}}))
		want := "the clock is back\n"
		if width > 0 {
			want = " 120.00 BPM\r\x1b[K 121.50 BPM\r\x1b[Kthe clock is back\n 122.00 BPM\r\x1b[K"
		}
		require.Equal(t, want, talk.String())
		require.Equal(t, "    1.500 s   122.00 BPM  head 2 245.9 ms (1/2 of what was asked)\n", out.String())
	}
}

// TestHowFarANoteIsOff beside what can be noticed: 6 ms up to 240 ms, 2.5 % above
// (Friberg & Sundberg 1995).
func TestHowFarANoteIsOff(t *testing.T) {
	for _, c := range []struct {
		wanted, got preset.Millis
		says        string
	}{
		{200, 200, "as wanted"},
		{200, 203, "3.0 ms late: 0.50 of what can just be noticed"},
		{400, 380, "20.0 ms early: 2.00 of what can just be noticed"},
	} {
		require.Equal(t, c.says, offWords(exchange.NoteTime{Wanted: c.wanted, Got: c.got, Off: c.got - c.wanted}), fmt.Sprint(c))
	}
}

// TestWhatIsLeftBehind where an update was begun and never ended is not known.
func TestWhatIsLeftBehind(t *testing.T) {
	for halfway, words := range map[bool]string{
		false: "the clock has 101.50 BPM; box holds the times of 100.00 BPM: ",
		true:  "the clock has 101.50 BPM; box may be between two tempi; before that it held the times of 100.00 BPM: ",
	} {
		var out, talk bytes.Buffer
		c := &call{out: ui.Plain(&out), talk: ui.Screen{Writer: &talk}}
		s := followShow{call: c, clock: "os:one", device: &profiles.Device{Name: "box"}}
		s.end(exchange.Followed{Tempo: 101.5, Last: exchange.FollowUpdate{Tempo: 100}, Updates: 1, Halfway: halfway})
		require.Contains(t, out.String(), words)
	}
}
