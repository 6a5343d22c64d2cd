package songfile

import "sort"

// A Position is a place as musicians count it.
type Position struct {
	Bar  int  // from 1
	Beat int  // from 1, in units of the time signature
	Tick Tick // behind the beat
}

// signedBars is a part of the song with one time signature.
type signedBars struct {
	MeterChange
	bar int64 // the number of its first bar, from 0
}

func (m *TempoMap) layMeters(changes []MeterChange) {
	m.meters = make([]signedBars, len(changes))
	for i, c := range changes {
		m.meters[i].MeterChange = c
		if i > 0 {
			last := m.meters[i-1]
			bars := ceilDiv(int64(c.At-last.At)*int64(last.Meter.Unit), m.barUnits(last.Meter))
			m.meters[i].bar = last.bar + bars
		}
	}
}

// barUnits and beatUnits are the length of a bar and of a beat in ticks × Unit,
// which is a whole number even where a beat is none of ticks.
func (m TempoMap) barUnits(s Meter) int64 { return int64(s.Beats) * m.beatUnits() }
func (m TempoMap) beatUnits() int64       { return 4 * m.division }

// MeterAt is the time signature that holds at a tick.
func (m TempoMap) MeterAt(t Tick) Meter { return m.barsAt(within(t)).Meter }

func (m TempoMap) barsAt(t Tick) signedBars {
	return m.meters[sort.Search(len(m.meters), func(i int) bool { return m.meters[i].At > t })-1]
}

// PositionAt is the bar and the beat of a tick. Where a beat begins between two
// ticks it is the later one that it begins at.
func (m TempoMap) PositionAt(t Tick) Position {
	t = within(t)
	s := m.barsAt(t)
	units := int64(t-s.At) * int64(s.Meter.Unit)
	bar := units / m.barUnits(s.Meter)
	inBar := units % m.barUnits(s.Meter)
	return Position{
		Bar:  int(s.bar+bar) + 1,
		Beat: int(inBar/m.beatUnits()) + 1,
		Tick: Tick(inBar % m.beatUnits() / int64(s.Meter.Unit)),
	}
}

// BarAt is the tick at which a bar begins, counted from 1: tick 0 for those before
// the first, MaxTick for those beyond.
func (m TempoMap) BarAt(bar int) Tick {
	n := max(int64(bar)-1, 0)
	i := sort.Search(len(m.meters), func(i int) bool { return m.meters[i].bar > n })
	s := m.meters[i-1]
	unit, length := int64(s.Meter.Unit), m.barUnits(s.Meter)
	if bars := n - s.bar; bars <= int64(MaxTick-s.At)*unit/length {
		return s.At + Tick(ceilDiv(bars*length, unit))
	}
	return MaxTick
}

func ceilDiv(a, b int64) int64 { return (a + b - 1) / b }
