package cli

import (
	"errors"
	"fmt"

	"echowright/cmd/internal/ui"
	"echowright/midi/songfile"
)

// midiOf is a Standard MIDI File of some songs: a track with the tempo map and the
// markers, and one for the device.
func midiOf(title string, a address, songs []cuedSong) (exportFile, error) {
	var played []songfile.Song
	for _, s := range songs {
		played = append(played, s.played)
	}
	set, err := songfile.LayOut(played)
	if err != nil {
		return exportFile{}, err
	}
	times, device := &track{}, &track{}
	times.text(0, songfile.MetaTrackName, title)
	times.add(set.Map.Events()...)
	device.text(0, songfile.MetaTrackName, fmt.Sprintf("%s, %s", a.device.Name, addressed(a)))
	for i, s := range set.Songs {
		times.text(s.LeadIn, songfile.MetaMarker, "lead-in: "+songs[i].Title)
		times.text(s.Start, songfile.MetaMarker, songs[i].Title)
		times.add(songs[i].markers(s, set.Division)...)
		times.End, device.End = s.End, s.End
		begins := s.LeadIn
		if len(s.Events) > 0 {
			begins = s.Events[0].At
		}
		device.text(begins, songfile.MetaText, cueWords(songs[i], s, set.Map))
		device.add(s.Events...)
	}
	if err := errors.Join(times.err, device.err); err != nil {
		return exportFile{}, err
	}
	content, err := songfile.Format(songfile.File{Format: 1, Division: set.Division, Tracks: []songfile.Track{times.Track, device.Track}})
	return exportFile{content: content, set: set}, err
}

// A track is one that grows; err is the first thing that it could not take.
type track struct {
	songfile.Track
	err error
}

func (t *track) add(events ...songfile.Event) { t.Events = append(t.Events, events...) }

func (t *track) text(at songfile.Tick, kind songfile.MetaType, words string) {
	e, err := songfile.Text(at, kind, words)
	if err != nil && t.err == nil {
		t.err = err
	}
	t.add(e)
}

// addressed says by what the device is found.
func addressed(a address) string {
	switch {
	case a.device.Manners.ByChannel:
		return fmt.Sprintf("channel %d", a.unit)
	case a.channel > 0:
		return fmt.Sprintf("unit %d, channel %d", a.unit, a.channel)
	}
	return fmt.Sprintf("unit %d", a.unit)
}

// markers are those of the song's own file, where it stands in the set.
func (s cuedSong) markers(at songfile.SetSong, division int) []songfile.Event {
	if s.tempi == nil {
		return nil
	}
	by := songfile.Tick(division / s.tempi.file.Division)
	var all []songfile.Event
	for _, e := range s.tempi.file.InOrder() {
		kind, _, _ := e.Meta()
		if kind == songfile.MetaMarker || kind == songfile.MetaCuePoint {
			all = append(all, songfile.Event{At: at.Start + e.At*by, Bytes: e.Bytes})
		}
	}
	return all
}

// cueWords say what the messages of a song do, and how long it takes.
func cueWords(s cuedSong, at songfile.SetSong, m songfile.TempoMap) string {
	return fmt.Sprintf("%s: %s: %s, %s: %s ms on the wire, %s ms for the device; ready %s ms before bar %d",
		s.Title, s.what, ui.Count(at.Messages, "message", "messages"), ui.Count(at.Bytes, "byte", "bytes"),
		ui.Fixed(at.Wire.Millis(), 2), ui.Fixed(at.Device.Millis(), 2), ui.Fixed(at.Spare.Millis(), 2), m.PositionAt(at.Start).Bar)
}
