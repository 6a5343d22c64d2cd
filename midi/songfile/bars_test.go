package songfile

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// 96 ticks a quarter: a bar of 4/4 is 384 ticks, of 3/4 288, of 7/8 336 (7 · 48).
func TestBars(t *testing.T) {
	m := mapOf(t, 96, nil, []MeterChange{{768, Meter{3, 4}}, {1344, Meter{7, 8}}, {1400, Meter{4, 4}}})
	for _, c := range []struct {
		name string
		tick Tick
		want Position
	}{
		{"the start", 0, Position{1, 1, 0}},
		{"a tick later", 1, Position{1, 1, 1}},
		{"the last tick of the first beat", 95, Position{1, 1, 95}},
		{"the second beat", 96, Position{1, 2, 0}},
		{"the second bar", 384, Position{2, 1, 0}},
		{"3/4 from bar 3 on", 768, Position{3, 1, 0}},
		{"the last beat of three", 768 + 192, Position{3, 3, 0}},
		{"bar 4", 768 + 288, Position{4, 1, 0}},
		{"7/8 from bar 5 on: beats are eighths", 1344 + 48, Position{5, 2, 0}},
		{"a signature in the middle of a bar begins one", 1400, Position{6, 1, 0}},
		{"and goes on from there", 1400 + 384, Position{7, 1, 0}},
	} {
		require.Equal(t, c.want, m.PositionAt(c.tick), c.name)
	}
	for bar, want := range map[int]Tick{-3: 0, 1: 0, 2: 384, 3: 768, 4: 1056, 5: 1344, 6: 1400, 7: 1784} {
		require.Equal(t, want, m.BarAt(bar), "bar %d", bar)
	}
}

// One tick a quarter: bars of 3/8 are one and a half ticks long, so that the bar
// lines stand at 0, 1½, 3, 4½ and the bars begin at the ticks 0, 2, 3, 5.
func TestBarsBetweenTicks(t *testing.T) {
	m := mapOf(t, 1, nil, []MeterChange{{0, Meter{3, 8}}})
	var begins []Tick
	for bar := 1; bar <= 4; bar++ {
		begins = append(begins, m.BarAt(bar))
	}
	require.Equal(t, []Tick{0, 2, 3, 5}, begins)
	require.Equal(t, Position{1, 3, 0}, m.PositionAt(1), "the third eighth begins there")
	require.Equal(t, Position{2, 2, 0}, m.PositionAt(2), "half a tick behind the bar line")
}

// 2³⁷ = 357,913,941·384 + 128: a beat and 32 ticks behind a bar line.
func TestBarsAtTheFarEnd(t *testing.T) {
	m := mapOf(t, 96, nil, nil)
	require.Equal(t, Position{357_913_942, 2, 32}, m.PositionAt(MaxTick))
	require.Equal(t, Position{357_913_942, 2, 32}, m.PositionAt(MaxTick+1))
	require.Equal(t, MaxTick-128, m.BarAt(357_913_942))
	require.Equal(t, MaxTick, m.BarAt(357_913_943))
	require.Equal(t, MaxTick, m.BarAt(math.MaxInt))
}

// Counted tick by tick.
func TestBarsBesideCounting(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 34))
	for range 50 {
		division := 32 * (1 + r.IntN(8)) // every beat down to 1/128 is whole
		var meters []MeterChange
		at := Tick(0)
		for range 4 {
			meters = append(meters, MeterChange{at, Meter{1 + r.IntN(12), 1 << r.IntN(6)}})
			at += Tick(1 + r.IntN(3000))
		}
		m := mapOf(t, division, nil, meters)
		want, next := Position{0, 1, 0}, 0
		inBeat, meter := 0, Meter{}
		for tick := range at {
			if next < len(meters) && meters[next].At == tick {
				meter, inBeat = meters[next].Meter, 0
				next++
				want = Position{want.Bar + 1, 1, 0}
			} else if inBeat++; inBeat*meter.Unit == 4*division {
				inBeat = 0
				if want.Beat++; want.Beat > meter.Beats {
					want = Position{want.Bar + 1, 1, 0}
				}
			}
			want.Tick = Tick(inBeat)
			require.Equal(t, want, m.PositionAt(tick))
			require.Equal(t, meter, m.MeterAt(tick))
			if want.Beat == 1 && want.Tick == 0 {
				require.Equal(t, tick, m.BarAt(want.Bar))
			}
		}
	}
}
