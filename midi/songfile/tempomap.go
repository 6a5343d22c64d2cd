package songfile

import (
	"cmp"
	"fmt"
	"slices"
	"sort"
)

// Micros is a time in microseconds from the start of the song.
type Micros int64

// A TempoMap says when a tick sounds and in which bar it stands. The zero value
// is of no use: make one with [NewTempoMap] or [File.TempoMap].
type TempoMap struct {
	division int64
	tempi    []stretch    // the first from tick 0 on
	meters   []signedBars // the first from tick 0 on
}

// A stretch is a part of the song with one tempo. Its start is exact: a time
// times the division, in microseconds, is a whole number at every tick.
type stretch struct {
	TempoChange
	start int64 // µs × division
}

// NewTempoMap makes a map of the changes given, in any order; of several at one
// tick the last counts. Before the first it is 120 quarters a minute and 4/4, as
// the standard has it. division is the ticks a quarter note.
func NewTempoMap(division int, tempi []TempoChange, meters []MeterChange) (TempoMap, error) {
	if division < 1 || division > MaxDivision {
		return TempoMap{}, fmt.Errorf("tempo map: %d ticks per quarter note: wanted 1 to %d", division, MaxDivision)
	}
	for _, c := range tempi {
		if err := c.Tempo.check(); err != nil || c.At < 0 || c.At > MaxTick {
			return TempoMap{}, misplaced("tempo", c.At, err)
		}
	}
	for _, c := range meters {
		if err := c.Meter.check(); err != nil || c.At < 0 || c.At > MaxTick {
			return TempoMap{}, misplaced("time signature", c.At, err)
		}
	}
	m := TempoMap{division: int64(division)}
	m.layTempi(settled(tempi, TempoChange{0, defaultTempo}, func(c TempoChange) Tick { return c.At }))
	m.layMeters(settled(meters, MeterChange{0, commonTime()}, func(c MeterChange) Tick { return c.At }))
	return m, nil
}

func misplaced(what string, at Tick, err error) error {
	if err != nil {
		return fmt.Errorf("tempo map: tick %d: %w", at, err)
	}
	return fmt.Errorf("tempo map: %s at tick %d: wanted 0 to %d", what, at, MaxTick)
}

// settled is the changes by their ticks behind the one that holds from the start,
// of several at one tick only the last.
func settled[C any](changes []C, first C, at func(C) Tick) []C {
	all := append([]C{first}, changes...)
	slices.SortStableFunc(all, func(a, b C) int { return cmp.Compare(at(a), at(b)) })
	kept := all[:0]
	for _, c := range all {
		if n := len(kept); n > 0 && at(kept[n-1]) == at(c) {
			kept = kept[:n-1]
		}
		kept = append(kept, c)
	}
	return kept
}

// TempoMap is the map of the tempi and time signatures of all tracks. In a file
// that was parsed they are sound.
func (f File) TempoMap() (TempoMap, error) {
	var tempi []TempoChange
	var meters []MeterChange
	for i, t := range f.Tracks {
		for _, e := range t.Events {
			kind, data, _ := e.Meta()
			var err error
			switch kind {
			case metaTempo:
				c := TempoChange{At: e.At}
				c.Tempo, err = tempoOf(data)
				tempi = append(tempi, c)
			case metaTimeSignature:
				c := MeterChange{At: e.At}
				c.Meter, err = meterOf(data)
				meters = append(meters, c)
			}
			if err != nil {
				return TempoMap{}, fmt.Errorf("track %d: tick %d: %w", i+1, e.At, err)
			}
		}
	}
	return NewTempoMap(f.Division, tempi, meters)
}

func (m *TempoMap) layTempi(changes []TempoChange) {
	m.tempi = make([]stretch, len(changes))
	for i, c := range changes {
		m.tempi[i].TempoChange = c
		if i > 0 {
			m.tempi[i].start = m.tempi[i-1].exact(c.At)
		}
	}
}

// exact is the time of a tick from the stretch's start on, in µs × division.
func (s stretch) exact(t Tick) int64 { return s.start + int64(t-s.At)*int64(s.Tempo) }

// within is the tick itself if the map reaches it, else the nearest that it does.
func within(t Tick) Tick { return min(max(t, 0), MaxTick) }

func (m TempoMap) stretchAt(t Tick) stretch {
	return m.tempi[sort.Search(len(m.tempi), func(i int) bool { return m.tempi[i].At > t })-1]
}

// TempoAt is the tempo that holds at a tick.
func (m TempoMap) TempoAt(t Tick) Tempo { return m.stretchAt(within(t)).Tempo }

// TimeAt is when a tick sounds, to the nearest microsecond. Ticks before 0 or
// behind MaxTick are taken for these.
func (m TempoMap) TimeAt(t Tick) Micros {
	t = within(t)
	return m.rounded(m.stretchAt(t).exact(t))
}

// rounded takes half microseconds up.
func (m TempoMap) rounded(exact int64) Micros {
	return Micros((2*exact + m.division) / (2 * m.division))
}

// TickAt is the last tick that sounds no later than a time; 0 for times before
// the start. Where a tick lasts longer than a microsecond, TickAt(TimeAt(t)) is t.
func (m TempoMap) TickAt(at Micros) Tick {
	if at >= m.TimeAt(MaxTick) {
		return MaxTick
	}
	i := sort.Search(len(m.tempi), func(i int) bool { return m.rounded(m.tempi[i].start) > at })
	if i == 0 {
		return 0
	}
	// The largest exact time that is rounded to at or less: 2·exact + division
	// stays below 2·division·(at + 1).
	last := (2*m.division*(int64(at)+1) - m.division - 1) / 2
	s := m.tempi[i-1]
	return s.At + Tick((last-s.start)/int64(s.Tempo))
}

// Beats is how many quarter notes stand before a tick.
func (m TempoMap) Beats(t Tick) float64 { return float64(t) / float64(m.division) }

// Events is the map as the events that state it, a time signature before the tempo of
// its tick: what the first track of a file of format 1 begins with.
func (m TempoMap) Events() []Event {
	var all []Event
	for _, s := range m.meters {
		all = append(all, s.Meter.event(s.At))
	}
	for _, s := range m.tempi {
		all = append(all, s.Tempo.event(s.At))
	}
	slices.SortStableFunc(all, func(a, b Event) int { return cmp.Compare(a.At, b.At) })
	return all
}
