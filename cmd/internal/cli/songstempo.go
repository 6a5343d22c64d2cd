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
	s.tempo = m.TempoAt(0).BPM()
	r := preset.TempoRange{From: s.tempo, To: s.tempo}
	for _, e := range m.Events() {
		tempo := m.TempoAt(e.At).BPM()
		r.From, r.To = min(r.From, tempo), max(r.To, tempo)
	}
	if r.From != r.To {
		s.tempi = &r
	}
	if err := preset.CheckTempo(s.tempo); err != nil {
		return fmt.Errorf("tempo map %s begins at %w", path, err)
	}
	return nil
}

func readMIDI(path string) ([]byte, error) {
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

// tempiWarning says how far the song's other tempi take its echoes off their
// places; "" where that cannot be noticed. A delay that is a share of a beat is
// late by as much as the beat is shorter.
func (s setSong) tempiWarning(at preset.Millis) string {
	if s.tempi == nil {
		return ""
	}
	var most preset.Millis
	var worst preset.BPM
	for _, tempo := range []preset.BPM{s.tempi.From, s.tempi.To} {
		there := at * preset.Millis(s.tempo/tempo)
		if off := max(at-there, there-at); off > most {
			most, worst = off, tempo
		}
	}
	if most <= preset.TimingJND(at) {
		return ""
	}
	return fmt.Sprintf("its tempo runs from %s to %s BPM: the slot is right for the first, %s; at %s its echo at %.1f ms is %.1f ms off, %.1f times what can be noticed",
		shortBPM(s.tempi.From), shortBPM(s.tempi.To), shortBPM(s.tempo), shortBPM(worst), float64(at), float64(most), float64(most/preset.TimingJND(at)))
}
