package songfile

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func mapOf(t *testing.T, division int, tempi []TempoChange, meters []MeterChange) TempoMap {
	t.Helper()
	m, err := NewTempoMap(division, tempi, meters)
	require.NoError(t, err)
	return m
}

// 60,000,000 over the beats a minute, to the nearest whole; 120 is the standard's
// own example, 07 A1 20. What comes back is worked from the rounded figure.
func TestTempi(t *testing.T) {
	for _, c := range []struct {
		bpm   preset.BPM
		tempo Tempo
		back  float64
	}{
		{60, 1_000_000, 60},
		{90, 666_667, 89.999955},
		{100, 600_000, 100},
		{120, 500_000, 120},
		{140, 428_571, 140.000140},
		{180, 333_333, 180.000180},
		{208, 288_462, 207.999667},
	} {
		got, err := TempoOf(c.bpm)
		require.NoError(t, err)
		require.Equal(t, c.tempo, got)
		require.InDelta(t, c.back, float64(got.BPM()), 5e-7, "the figure has six places")
	}
	require.InDelta(t, 3.5763, float64(MaxTempo.BPM()), 5e-5, "FF FF FF; the figure has four places")
}

func TestNoTempi(t *testing.T) {
	for _, b := range []preset.BPM{0, -1, 1e9, 3.5, preset.BPM(math.NaN())} {
		_, err := TempoOf(b)
		require.ErrorContains(t, err, "must lie from 10 to 1000 beats a minute")
	}
}

func TestTimeOfTicks(t *testing.T) {
	for _, c := range []struct {
		name     string
		division int
		tempi    []TempoChange
		tick     Tick
		want     Micros
	}{
		// RP-001: 6144 ticks of 96 a quarter at 500,000 µs are 32,000 ms.
		{"the standard's example", 96, []TempoChange{{0, 500_000}}, 6144, 32_000_000},
		{"120 where nothing is stated (RP-001)", 96, nil, 6144, 32_000_000},
		{"120 up to the first tempo", 96, []TempoChange{{96, 1_000_000}}, 192, 1_500_000},
		{"the last of two at one tick counts", 96, []TempoChange{{0, 500_000}, {0, 1_000_000}}, 96, 1_000_000},
		{"in any order", 96, []TempoChange{{192, 250_000}, {96, 1_000_000}}, 288, 500_000 + 1_000_000 + 250_000},
		// One tick of 7 a quarter at 500,000 µs: 71,428.57.
		{"to the nearest microsecond", 7, nil, 1, 71_429},
		// 1,000,001 ticks of 3 a quarter at 1 µs: 333,333.67.
		{"a third of a microsecond a tick", 3, []TempoChange{{0, 1}}, 1_000_001, 333_334},
		{"half a microsecond is taken up", 2, []TempoChange{{0, 1}}, 1, 1},
		{"before the start", 96, nil, -5, 0},
		// 2³⁷ ticks of 1 a quarter, 2²⁴ − 1 µs each.
		{"the farthest", 1, []TempoChange{{0, MaxTempo}}, MaxTick, 1<<61 - 1<<37},
		{"farther still", 1, []TempoChange{{0, MaxTempo}}, MaxTick + 1, 1<<61 - 1<<37},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, mapOf(t, c.division, c.tempi, nil).TimeAt(c.tick))
		})
	}
}

// A clock ticks 24 times a quarter (MIDI 1.0 Detailed Specification, page 30), so
// with 24 ticks a quarter a tick is its interval, 60,000/(24·BPM) ms.
func TestTicksOfAClock(t *testing.T) {
	for _, c := range []struct {
		bpm  preset.BPM
		want Micros
	}{
		{60, 41_667}, {90, 27_778}, {100, 25_000}, {120, 20_833}, {140, 17_857}, {208, 12_019}, {240, 10_417},
	} {
		tempo, err := TempoOf(c.bpm)
		require.NoError(t, err)
		require.Equal(t, c.want, mapOf(t, 24, []TempoChange{{0, tempo}}, nil).TimeAt(1), "%v", c.bpm)
	}
}

func TestTickOfTimes(t *testing.T) {
	m := mapOf(t, 480, []TempoChange{{0, 500_000}, {960, 1_000_000}}, nil)
	for _, c := range []struct {
		name string
		at   Micros
		want Tick
	}{
		{"before the start", -1, 0},
		{"the start", 0, 0},
		{"just before the first tick, which sounds after 1041.67 µs", 1041, 0},
		{"the first tick as it is rounded", 1042, 1},
		{"a quarter", 500_000, 480},
		{"the change", 1_000_000, 960},
		{"just before the change", 999_999, 959},
		{"a slower quarter", 2_000_000, 1440},
		{"beyond the last", 1 << 62, MaxTick},
		{"as early as can be said", -1 << 63, 0},
		{"as late as can be said", 1<<63 - 1, MaxTick},
	} {
		require.Equal(t, c.want, m.TickAt(c.at), c.name)
	}
	require.Equal(t, Tempo(500_000), m.TempoAt(m.TickAt(999_999)))
	require.Equal(t, Tempo(1_000_000), m.TempoAt(m.TickAt(1_000_000)))
	require.Equal(t, Tempo(500_000), m.TempoAt(-1))
	require.Equal(t, 2.5, m.Beats(1200))
}

func randomTempi(r *rand.Rand, n int, far Tick) []TempoChange {
	tempi := make([]TempoChange, n)
	for i := range tempi {
		tempi[i] = TempoChange{Tick(r.Int64N(int64(far))), Tempo(1 + r.IntN(int(MaxTempo))>>r.IntN(24))}
	}
	return tempi
}

// Beside fractions of any size, added up tempo by tempo.
func TestTimesAreExactToTheNearestMicrosecond(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	for range 300 {
		division := 1 + r.IntN(MaxDivision)
		far := Tick(1) << (1 + r.IntN(37))
		m := mapOf(t, division, randomTempi(r, r.IntN(30), far), nil)
		for range 20 {
			tick := Tick(r.Int64N(int64(far)))
			at := m.TimeAt(tick)
			off := new(big.Rat).Sub(exactTime(m, division, tick), new(big.Rat).SetInt64(int64(at)))
			require.LessOrEqual(t, off.Abs(off).Cmp(big.NewRat(1, 2)), 0, "tick %d of %d", tick, division)

			back := m.TickAt(at)
			require.GreaterOrEqual(t, back, tick)
			require.Equal(t, at, m.TimeAt(back), "later ticks only while they sound in the same microsecond")
			require.Greater(t, m.TimeAt(back+1), at)
			if at > 0 {
				require.Less(t, m.TickAt(at-1), tick)
			}
		}
	}
}

func exactTime(m TempoMap, division int, tick Tick) *big.Rat {
	sum := new(big.Rat)
	for i, s := range m.tempi {
		end := tick
		if i+1 < len(m.tempi) {
			end = min(tick, m.tempi[i+1].At)
		}
		if end > s.At {
			part := big.NewRat(int64(end-s.At), int64(division))
			sum.Add(sum, part.Mul(part, big.NewRat(int64(s.Tempo), 1)))
		}
	}
	return sum
}

func TestMapsThatCannotBe(t *testing.T) {
	for _, c := range []struct {
		division int
		tempi    []TempoChange
		meters   []MeterChange
		want     string
	}{
		{0, nil, nil, "tempo map: 0 ticks per quarter note: wanted 1 to 32767"},
		{32768, nil, nil, "tempo map: 32768 ticks per quarter note: wanted 1 to 32767"},
		{96, []TempoChange{{5, 0}}, nil, "tempo map: tick 5: tempo of 0 µs a quarter note: wanted 1 to 16777215"},
		{96, []TempoChange{{5, 1 << 24}}, nil, "tempo map: tick 5: tempo of 16777216 µs a quarter note: wanted 1 to 16777215"},
		{96, []TempoChange{{-1, 1}}, nil, "tempo map: tempo at tick -1: wanted 0 to 137438953472"},
		{96, []TempoChange{{MaxTick + 1, 1}}, nil, "tempo map: tempo at tick 137438953473: wanted 0 to 137438953472"},
		{96, nil, []MeterChange{{7, Meter{4, 3}}}, "tempo map: tick 7: time signature 4/3: wanted 1 to 255 beats of 1/1, 1/2, 1/4 … 1/128"},
		{96, nil, []MeterChange{{7, Meter{256, 4}}}, "tempo map: tick 7: time signature 256/4: wanted 1 to 255 beats of 1/1, 1/2, 1/4 … 1/128"},
		{96, nil, []MeterChange{{-7, Meter{4, 4}}}, "tempo map: time signature at tick -7: wanted 0 to 137438953472"},
	} {
		_, err := NewTempoMap(c.division, c.tempi, c.meters)
		require.EqualError(t, err, c.want)
	}
}

func TestTempoAndTimeSignatureMayStandInAnyTrack(t *testing.T) {
	f := File{1, 96, []Track{
		{[]Event{at(0, "FF 03 41"), at(192, "FF 51 0F 42 40")}, 192},
		{[]Event{at(96, "FF 51 03 D0 90"), at(96, "FF 58 03 02 18 08")}, 96},
		{[]Event{at(192, "FF 51 09 27 C0")}, 192}, // the later track counts
	}}
	m, err := f.TempoMap()
	require.NoError(t, err)
	require.Equal(t, Tempo(500_000), m.TempoAt(95))
	require.Equal(t, Tempo(250_000), m.TempoAt(96), "03 D0 90 is 250,000")
	require.Equal(t, Tempo(600_000), m.TempoAt(192), "09 27 C0 is 600,000")
	require.Equal(t, Meter{4, 4}, m.MeterAt(95))
	require.Equal(t, Meter{3, 4}, m.MeterAt(96))
	require.Equal(t, Micros(500_000+250_000+600_000), m.TimeAt(288))
}

func TestAMapOfAFileMadeByHandIsChecked(t *testing.T) {
	_, err := File{0, 96, []Track{{Events: []Event{at(5, "FF 51 00")}}}}.TempoMap()
	require.EqualError(t, err, "track 1: tick 5: tempo: wanted 3 bytes, got 1")
	_, err = File{0, 96, []Track{{Events: []Event{at(5, "FF 58 00")}}}}.TempoMap()
	require.EqualError(t, err, "track 1: tick 5: time signature: wanted 4 bytes, got 1")
}

// 6/8 is the standard's example: a click every 24h = 36 clocks, a dotted quarter.
func TestAMapAsEvents(t *testing.T) {
	m := mapOf(t, 96, []TempoChange{{96, 600_000}}, []MeterChange{{96, Meter{6, 8}}, {384, Meter{3, 8}}, {480, Meter{5, 128}}})
	require.Equal(t, []Event{
		at(0, "FF 58 04 02 18 08"),
		at(0, "FF 51 07 A1 20"),
		at(96, "FF 58 06 03 24 08"),
		at(96, "FF 51 09 27 C0"),
		at(384, "FF 58 03 03 0C 08"),
		at(480, "FF 58 05 07 01 08"),
	}, m.Events())
}

func TestAMapComesBackFromItsEvents(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 13))
	for range 100 {
		var meters []MeterChange
		for range r.IntN(8) {
			meters = append(meters, MeterChange{Tick(r.IntN(10_000)), Meter{1 + r.IntN(maxBeats), 1 << r.IntN(maxUnitBits+1)}})
		}
		want := mapOf(t, 1+r.IntN(MaxDivision), randomTempi(r, 20, 10_000), meters)
		got, err := File{1, int(want.division), []Track{{Events: want.Events()}}}.TempoMap()
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
}
