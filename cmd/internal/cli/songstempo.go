package cli

import (
	"fmt"
	"io"
	"os"

	"echowright/midi/songfile"
	"echowright/preset"
)

// mostMIDI is more than any song: a larger file is something else.
const mostMIDI = 64 << 20

// songTempi is how the tempo of a song moves, and the file that says so.
type songTempi struct {
	path string
	file songfile.File
	songfile.TempoMap
}

// readTempi takes the song's tempo from a Standard MIDI File: a slot has one
// setting, and the count-in is played at the first tempo.
func (s *setSong) readTempi(path string) error {
	text, err := readMIDI(path)
	if err != nil {
		return err
	}
	f, err := songfile.Parse(path, text)
	if err != nil {
		return fmt.Errorf("tempo map %w", err)
	}
	m, err := f.TempoMap()
	if err != nil {
		return fmt.Errorf("tempo map %s: %w", path, err)
	}
	s.tempi, s.tempo = &songTempi{path, f, m}, m.TempoAt(0).BPM()
	if err := preset.CheckTempo(s.tempo); err != nil {
		return fmt.Errorf("tempo map %s begins at %w", path, err)
	}
	return nil
}

func readMIDI(path string) ([]byte, error) {
	is, err := os.Stat(path)
	if err == nil && !is.IsDir() && !is.Mode().IsRegular() { // a pipe would be waited for without end
		return nil, fmt.Errorf("file %s: is a pipe or a device: save the tempo map to a file", path)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fileError(path, err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, mostMIDI+1))
	if err != nil {
		return nil, fileError(path, err)
	}
	if len(text) > mostMIDI {
		return nil, fmt.Errorf("file %s: has more than %d bytes: is this the right file?", path, mostMIDI)
	}
	return text, nil
}

// A drift is how far a tempo that has moved takes an echo off its place.
type drift struct {
	bar   int
	tempo preset.BPM
	off   preset.Millis // + where the echo comes too late
}

func (d drift) size() preset.Millis { return max(d.off, -d.off) }

// drifts are the first place from which on an echo at that delay is heard to be off,
// and the place where it is off the most; ok is false where it never is. An echo that
// is a share of a beat is late by as much as the beat has become shorter.
func (t *songTempi) drifts(at preset.Millis) (first, most drift, ok bool) {
	begins := t.TempoAt(0)
	for _, e := range t.Events() {
		tempo := t.TempoAt(e.At)
		d := drift{tempo: tempo.BPM(), off: at - at*preset.Millis(tempo)/preset.Millis(begins)}
		if d.size() <= preset.TimingJND(at) || ok && d.size() <= most.size() {
			continue
		}
		d.bar = t.PositionAt(e.At).Bar
		if most = d; !ok {
			first, ok = d, true
		}
	}
	return first, most, ok
}

// tempiWarning says how far the song's other tempi take the echo of a head off its
// place; "" where that cannot be noticed.
func (s setSong) tempiWarning(head int, at preset.Millis) string {
	if s.tempi == nil {
		return ""
	}
	first, most, ok := s.tempi.drifts(at)
	if !ok {
		return ""
	}
	text := fmt.Sprintf("its tempo moves: the slot is right for its first one, %s BPM; from bar %d on (%s BPM) the echo of head %d at %.1f ms comes %s",
		shortBPM(s.tempo), first.bar, shortBPM(first.tempo), head, float64(at), first.words())
	if most != first {
		text += fmt.Sprintf(", in bar %d (%s BPM) %s", most.bar, shortBPM(most.tempo), most.words())
	}
	return fmt.Sprintf("%s, which is %.1f times what can be noticed", text, float64(most.size()/preset.TimingJND(at)))
}

func (d drift) words() string {
	if d.off < 0 {
		return fmt.Sprintf("%.1f ms too early", -float64(d.off))
	}
	return fmt.Sprintf("%.1f ms too late", float64(d.off))
}
