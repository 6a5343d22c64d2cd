package cli

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/midi"
	"echowright/midi/songfile"
	"echowright/preset"
	"echowright/preset/unitfile"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// A stage is the firmware of a device, written from its manual, and a sequencer that
// plays a file to it and hears nothing.
type stage struct {
	device *emulator.Unit
	began  time.Time
}

func onStage(t *testing.T, model string) *stage {
	t.Helper()
	u, err := emulator.New(model, emulator.Options{})
	require.NoError(t, err)
	return &stage{u, time.Date(2026, 3, 14, 20, 0, 0, 0, time.UTC)}
}

// tell sends messages with more than enough time behind each.
func (s *stage) tell(b []byte) {
	for _, m := range midi.Split(b) {
		s.device.Arrive(s.began, m)
		s.began = s.began.Add(time.Second)
		s.device.Run(s.began)
	}
}

// play plays a file, and calls at whenever a marker comes, with the device as it was
// some time before.
func (s *stage) play(t *testing.T, f songfile.File, before time.Duration, at func(marker string)) {
	t.Helper()
	m, err := f.TempoMap()
	require.NoError(t, err)
	when := func(tick songfile.Tick) time.Time {
		return s.began.Add(time.Duration(m.TimeAt(tick)) * time.Microsecond)
	}
	for _, e := range f.InOrder() {
		if text, ok := e.Text(songfile.MetaMarker); ok {
			s.device.Run(when(e.At).Add(-before))
			at(text)
		}
		if wire := e.Wire(); wire != nil {
			s.device.Arrive(when(e.At), wire)
		}
	}
}

func parsed(t *testing.T, path string) songfile.File {
	t.Helper()
	f, err := songfile.Parse(path, readAll(t, path))
	require.NoError(t, err)
	return f
}

// plannedEbb are the songs of ebb on a device, by title.
func plannedEbb(t *testing.T, d *profiles.Device) map[string]plannedSong {
	t.Helper()
	u, err := unitfile.Parse("fen.toml", []byte(someUnit))
	require.NoError(t, err)
	sheet, err := library.ParseSongs("sheet.toml", []byte(ebb))
	require.NoError(t, err)
	all := map[string]plannedSong{}
	for _, song := range sheet.Songs {
		b, err := bring(setSong{Song: song, unit: u, tempo: song.Tempo})
		require.NoError(t, err)
		all[song.Title], err = planSong(b, address{device: d, unit: d.Manners.FirstUnit})
		require.NoError(t, err)
	}
	return all
}

// sounds requires that a device makes the echoes of a setting: those of 700 ms, which
// tell the songs apart. Later ones of several lines fall together, and the firmware
// takes them for one.
func sounds(t *testing.T, u *emulator.Unit, d *profiles.Device, s profiles.Setting, title string) {
	t.Helper()
	want, err := d.Echoes(s, -40, 700)
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(want), 1)
	heard, err := u.Echoes(-50, preset.TrainLimit)
	require.NoError(t, err)
	for _, e := range want {
		// The firmware reckons in steps of its own, of a hundredth at the most.
		require.True(t, has(heard, float64(e.At), float64(e.Level), 0.01, 0.01), "%s: %v heard, %v wanted", title, heard, e)
	}
}

// Played to the hardware by somebody who hears no answers, the file makes each song's
// echoes sound 10 ms before its bar begins, and not the echoes of the song before. A
// message that comes too early for a device is lost there, and would be missed here.
func TestTheFilePlaysTheSetOnTheHardware(t *testing.T) {
	for _, c := range []struct {
		model string
		live  bool
	}{
		{"five-line", false}, {"five-line", true},
		{"twin", false}, {"twin", true},
		{"tap-loop", false}, {"tap-loop", true},
		{"open-parameter", false}, {"open-parameter", true},
	} {
		name := c.model
		args := []string{"songs", "export", writeSet(t, ebb), "--device", c.model, "--bars", "3", "--out", filepath.Join(t.TempDir(), "ebb.mid")}
		if c.live {
			args, name = append(args, "--live"), name+", live"
		}
		t.Run(name, func(t *testing.T) {
			d, err := profiles.Shipped(c.model)
			require.NoError(t, err)
			songs := plannedEbb(t, d)
			s := onStage(t, c.model)
			if !c.live {
				for _, song := range songs {
					for _, step := range song.steps {
						s.tell(step.Send)
					}
				}
			}
			got := world(t).run(t, args...)
			require.Equal(t, exitDone, got.code, got.talk)
			played := 0
			s.play(t, parsed(t, args[8]), 10*time.Millisecond, func(marker string) {
				if song, ok := songs[marker]; ok {
					sounds(t, s.device, d, song.Setting, marker)
					played++
				}
			})
			require.Equal(t, 3, played)
		})
	}
}

// The .syx file, sent with the pauses that its user is told of, fills the slots that
// the MIDI file calls up.
func TestTheSlotsOfTheSet(t *testing.T) {
	out := filepath.Join(t.TempDir(), "ebb.mid")
	got := world(t).run(t, "songs", "export", writeSet(t, ebb), "--device", "five-line", "--out", out, "--syx")
	require.Equal(t, exitDone, got.code, got.talk)
	d, err := profiles.Shipped("five-line")
	require.NoError(t, err)
	s := onStage(t, "five-line")
	b, err := os.ReadFile(filepath.Join(filepath.Dir(out), "ebb.syx"))
	require.NoError(t, err)
	// Three slots of 118 bytes.
	require.Len(t, b, 3*118)
	for _, m := range midi.Split(b) {
		s.device.Arrive(s.began, m)
		s.began = s.began.Add(118*320*time.Microsecond + 304*time.Millisecond)
	}
	s.device.Run(s.began)
	require.Contains(t, got.talk, "has to leave 304 ms behind each message of "+filepath.Join(filepath.Dir(out), "ebb.syx"))
	s.play(t, parsed(t, out), 0, func(marker string) {
		if song, ok := plannedEbb(t, d)[marker]; ok {
			sounds(t, s.device, d, song.Setting, marker)
		}
	})
}
