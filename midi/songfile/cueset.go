package songfile

import (
	"errors"
	"fmt"

	"echowright/midi"
)

// finest is how many ticks a quarter note has at the least, so that messages are
// placed to half a millisecond at 120 quarters a minute. It holds 1/128 notes
// whole, and so the bars of every time signature.
const finest = 960

// A Song is one of a set, with a tempo map of its own.
type Song struct {
	Map    TempoMap
	Length Tick        // of the map; made up to whole bars, one at the least
	Steps  []midi.Step // that make the device ready for it
	Early  Micros      // how long before its first bar it is ready at the least
}

func (s Song) cue(ready Tick) Cue { return Cue{ready, s.Early, s.Steps} }

// A Set is songs one after the other, each behind some bars at its first tempo
// that lead into it, as many as its messages need and one at the least.
type Set struct {
	Division int
	Map      TempoMap
	Songs    []SetSong
}

// A SetSong is where a song of a set stands, in ticks of the set.
type SetSong struct {
	LeadIn, Start, End Tick
	Bars               int // of the lead-in
	PlacedCue              // done before Start; begins at LeadIn or later
}

// LayOut makes a set of songs. Their tempo maps stay as they are to the last tick:
// the set has ticks of which each song's are a whole number.
func LayOut(songs []Song) (Set, error) {
	s := Set{Division: 1, Songs: make([]SetSong, len(songs))}
	for i, song := range songs {
		s.Division = s.Division / common(s.Division, int(song.Map.division)) * int(song.Map.division)
		if s.Division > MaxDivision {
			return Set{}, fmt.Errorf("song %d: its %d ticks per quarter note have no common measure with those of the songs before it below %d: make a file for each song",
				i+1, song.Map.division, MaxDivision)
		}
	}
	if more := (finest + s.Division - 1) / s.Division * s.Division; more <= MaxDivision {
		s.Division = more
	}
	return s, s.lay(songs)
}

// common is the greatest common divisor.
func common(a, b int) int {
	for b > 0 {
		a, b = b, a%b
	}
	return a
}

// lay puts the songs behind one another.
func (s *Set) lay(songs []Song) error {
	var tempi []TempoChange
	var meters []MeterChange
	cues := make([]Cue, len(songs))
	at := Tick(0)
	for i, song := range songs {
		m, length, err := song.inTicks(s.Division)
		if err == nil {
			s.Songs[i], err = song.leadIn(m, at)
		}
		if err != nil {
			return fmt.Errorf("song %d: %w", i+1, err)
		}
		placed := &s.Songs[i]
		if placed.End = placed.Start + length; placed.End > MaxTick {
			return fmt.Errorf("song %d: ends at tick %d: wanted %d at the most: make a file for each song", i+1, placed.End, MaxTick)
		}
		tempi = append(tempi, TempoChange{at, m.tempi[0].Tempo})
		meters = append(meters, MeterChange{at, m.meters[0].Meter})
		for _, c := range m.tempi {
			tempi = append(tempi, TempoChange{placed.Start + c.At, c.Tempo})
		}
		for _, c := range m.meters {
			meters = append(meters, MeterChange{placed.Start + c.At, c.Meter})
		}
		cues[i] = song.cue(placed.Start)
		at = placed.End
	}
	return s.place(tempi, meters, cues)
}

func (s *Set) place(tempi []TempoChange, meters []MeterChange, cues []Cue) (err error) {
	if s.Map, err = NewTempoMap(s.Division, tempi, meters); err != nil {
		return err
	}
	placed, err := s.Map.Place(cues...)
	for i := range placed {
		s.Songs[i].PlacedCue = placed[i]
	}
	return err
}

// inTicks is the song's map with another division, of which its own is a divisor,
// and the song's length in whole bars of it.
func (s Song) inTicks(division int) (m TempoMap, length Tick, err error) {
	by := Tick(int64(division) / s.Map.division)
	var tempi []TempoChange
	var meters []MeterChange
	last := s.Length
	for _, c := range s.Map.tempi {
		tempi = append(tempi, TempoChange{c.At * by, c.Tempo})
		last = max(last, c.At)
	}
	for _, c := range s.Map.meters {
		meters = append(meters, MeterChange{c.At * by, c.Meter})
		last = max(last, c.At)
	}
	if m, err = NewTempoMap(division, tempi, meters); err != nil {
		return m, 0, err
	}
	if last > MaxTick/by {
		return m, 0, fmt.Errorf("%d ticks long: wanted %d at the most", last*by, MaxTick)
	}
	p := m.PositionAt(last * by)
	if last == 0 || p.Beat > 1 || p.Tick > 0 {
		p.Bar++
	}
	return m, m.BarAt(p.Bar), nil
}

// leadIn finds how many bars before the song its messages need, at its first tempo.
func (s Song) leadIn(m TempoMap, at Tick) (SetSong, error) {
	tempo, meter := m.tempi[0].Tempo, m.meters[0].Meter
	lead, err := NewTempoMap(int(m.division), []TempoChange{{0, tempo}}, []MeterChange{{0, meter}})
	if err != nil {
		return SetSong{}, err
	}
	for bars := 1; ; {
		ready := lead.BarAt(bars + 1)
		_, err := lead.Place(s.cue(ready))
		var near *TooNearError
		if !errors.As(err, &near) || ready == MaxTick {
			return SetSong{LeadIn: at, Start: at + ready, Bars: bars}, err
		}
		bars += int(max(1, near.Missing/max(1, lead.TimeAt(lead.BarAt(2)))))
	}
}
