package cli

import (
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
	"time"
	"unicode"

	"echowright/midi"
	"echowright/midi/songfile"
	"echowright/profiles"
)

// A cuedSong is a song as a sequencer gets it.
type cuedSong struct {
	plannedSong
	played songfile.Song
	live   bool   // every parameter is set, and no slot called up
	what   string // what the messages do
}

func cuedSongs(set *plannedSet, a address, o songsExportOptions) ([]cuedSong, error) {
	var all []cuedSong
	var failed failures
	for _, song := range set.songs {
		cued, err := cue(song, a, o)
		failed = failed.and(ofSong(song.Title, err))
		all = append(all, cued)
	}
	return all, failed.err()
}

// sooner is how long before its bar a device is ready at the least. It is for what is
// not known: how exactly a player keeps its times, and whether the bits on the wire
// last 1 % longer, as they may (common practice, no source).
const sooner songfile.Micros = 10_000

// cue finds the messages that make the device ready for a song, and the song's length.
func cue(p plannedSong, a address, o songsExportOptions) (s cuedSong, err error) {
	s = cuedSong{plannedSong: p, live: o.live || !callsUp(a)}
	if s.live {
		s.what = "set every parameter"
		s.played.Steps, err = a.device.SettingSteps(a.unit, p.Setting)
	} else {
		var load midi.Step
		load, err = a.device.LoadStep(a.unit, p.Slot)
		s.what, s.played.Steps = load.What, []midi.Step{load}
	}
	if err != nil {
		return s, err
	}
	for i, step := range s.played.Steps {
		s.played.Steps[i].Gap = unheard(step, a.device.Manners)
	}
	s.played.Early = sooner
	s.played.Map, s.played.Length, err = p.course(o.bars)
	return s, err
}

// callsUp reports whether the slots of a device can be filled and called up.
func callsUp(a address) bool {
	_, err := a.device.LoadStep(a.unit, a.device.FirstSlot)
	return a.device.HasSlots() && !errors.Is(err, profiles.ErrCannot)
}

// course is the tempo map of a song, its own or that of its one tempo, for so many
// bars, and its length.
func (p plannedSong) course(bars int) (m songfile.TempoMap, length songfile.Tick, err error) {
	if p.tempi != nil {
		for _, t := range p.tempi.file.Tracks {
			length = max(length, t.End)
		}
		return p.tempi.TempoMap, length, nil
	}
	tempo, err := songfile.TempoOf(p.tempo)
	if err != nil {
		return m, 0, err
	}
	const quartersPerBar = 4 // a sheet states no time signature, so it is 4/4
	m, err = songfile.NewTempoMap(1, []songfile.TempoChange{{Tempo: tempo}}, nil)
	return m, songfile.Tick(quartersPerBar * bars), err
}

// unheard is the silence behind a step's messages where nobody hears the answer that
// ends it: the time-out tells how long the device may take for writing to memory, or
// after how long its silence is an answer.
func unheard(s midi.Step, m profiles.Manners) time.Duration {
	switch {
	case len(s.Answers) == 0:
		return s.Gap
	case s.Silence == midi.Done:
		return s.Gap + s.Timeout
	}
	return s.Gap + max(0, s.Timeout-m.Answer)
}

// An exportFile is one that is written.
type exportFile struct {
	name    string
	content []byte
	first   int           // the index of its first song
	set     songfile.Set  // none in a .syx file
	pause   time.Duration // to be left behind each message of a .syx file
}

// exportFiles are all that an export writes, still in memory, the .syx file first.
func exportFiles(sheet string, a address, songs []cuedSong, o songsExportOptions) ([]exportFile, error) {
	var all []exportFile
	if o.syx {
		f, err := syxOf(songs, a)
		if err != nil {
			return nil, err
		}
		if f.name = strings.TrimSuffix(o.out, filepath.Ext(o.out)) + ".syx"; o.perSong {
			f.name = filepath.Join(o.out, sheet+".syx")
		}
		all = append(all, f)
	}
	if o.perSong {
		files, err := songFiles(o.out, a, songs)
		return append(all, files...), err
	}
	f, err := midiOf(sheet, a, songs)
	f.name = o.out
	return append(all, f), err
}

// songFiles are a MIDI file for each song, numbered so that they sort as they are
// played.
func songFiles(folder string, a address, songs []cuedSong) ([]exportFile, error) {
	var all []exportFile
	var failed failures
	digits := len(strconv.Itoa(len(songs)))
	for i, song := range songs {
		f, err := midiOf(song.Title, a, songs[i:i+1])
		failed = failed.and(ofSong(song.Title, err))
		f.name, f.first = filepath.Join(folder, fmt.Sprintf("%0*d-%s.mid", digits, i+1, plainName(song.Title))), i
		all = append(all, f)
	}
	return all, failed.err()
}

// syxOf is the messages that write all slots.
func syxOf(songs []cuedSong, a address) (f exportFile, err error) {
	for _, song := range songs {
		for _, step := range song.plannedSong.steps {
			if step.Send[0] != midi.StartOfSysEx {
				return f, errors.New("--syx: a .syx file holds System Exclusive messages alone, and this device is written with others: leave --syx out, and write the slots with songs push")
			}
			f.content = append(f.content, step.Send...)
			f.pause = max(f.pause, unheard(step, a.device.Manners))
		}
	}
	return f, nil
}

// plainName is a title as every file system takes it.
func plainName(title string) string {
	const most = 60
	name := strings.Map(func(r rune) rune {
		if r < unicode.MaxASCII && (unicode.IsLetter(r) || unicode.IsDigit(r)) {
			return unicode.ToLower(r)
		}
		return ' '
	}, title)
	name = strings.Join(strings.Fields(name), "-")
	if name == "" {
		return "song"
	}
	return strings.TrimRight(name[:min(len(name), most)], "-")
}
