package levelsteps

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset/signals"
)

// ringing is a machine whose one head feeds the loop, so that a soft sound comes
// back by turn (linear); and bursts with room for its repeats.
func ringing(k, bias, turn float64) (machine, signals.Signal) {
	m, s := usual(), loud()
	m.bend, m.loop, m.low = tanh(k, bias), turn/m.gain, 10
	s.Steps.Count, s.Steps.Step, s.Steps.Gap = 8, 4, 1500
	return m, s
}

// A sine of amplitude A that goes round comes out of tanh as the fundamental of
// tanh(turn·A): what the test's own integral says of it, harmonics aside.
func fundamental(bend func(float64) float64, a float64) float64 {
	const points = 1000
	sum := 0.0
	for i := range points {
		theta := 2 * math.Pi * float64(i) / points
		sum += bend(a*math.Sin(theta)) * math.Sin(theta) * 2 / points
	}
	return sum
}

func TestDrivenEchoesDecayFasterAtFirst(t *testing.T) {
	for _, c := range []struct {
		name          string
		k, bias, turn float64
		make          func(*machine, *Options)
	}{
		{"plain", 1, 0, 0.5, func(*machine, *Options) {}},
		{"hard", 4, 0, 0.7, func(*machine, *Options) {}},
		{"with bias", 2, 0.3, 0.5, func(*machine, *Options) {}},
		{"two channels", 2, 0, 0.5, func(m *machine, _ *Options) { m.two, m.direct = true, 0 }},
		{"turned over", 2, 0.3, 0.5, func(m *machine, o *Options) { m.gain, o.Inverted = -m.gain, true }},
		{"noise", 2, 0, 0.5, func(m *machine, _ *Options) { m.noise = 3e-4 }},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, s := ringing(c.k, c.bias, c.turn)
			o := Options{}
			c.make(&m, &o)
			r, err := Measure(m.take(s), s, o)
			require.NoError(t, err)
			l := r.Loop
			require.NotNil(t, l)
			require.InDelta(t, 121, float64(l.Delay), 1)
			// The machine is of the model's kind, and the fit goes by whole waves.
			require.InDelta(t, 20*math.Log10(c.turn), float64(l.Gain), 0.05)
			require.Less(t, float64(l.Misfit), 0.1)
			require.Less(t, float64(l.GainSD), 0.05)

			first, last := l.Turns[0], l.Turns[0]
			for _, turn := range l.Turns {
				if turn.Step == 8 && turn.Number == 1 {
					first = turn
				}
				if turn.Step == 8 {
					last = turn
				}
			}
			require.Greater(t, last.Number, 5)
			require.Less(t, float64(first.Gain), float64(last.Gain)-0.3, "the loudest burst loses more at first")
			require.InDelta(t, float64(l.Gain), float64(last.Gain), 0.1+3*float64(last.Noise), "and later what a soft one does")
			if c.bias == 0 {
				a := c.turn * fundamental(m.bend, 1)
				want := 20 * math.Log10(fundamental(m.bend, a)/a*c.turn)
				// The harmonics that go round too move it by some tenths.
				require.InDelta(t, want, float64(first.Gain), 0.3)
			}
			require.InDelta(t, 20*math.Log10(math.Abs(m.gain)*fundamental(m.bend, 1)), float64(first.Level), 0.2)
		})
	}
}

func TestAMachineThatIsNotDrivenLosesTheSameEachTurn(t *testing.T) {
	m, s := ringing(1, 0, 0.6)
	m.bend, m.low = func(x float64) float64 { return x }, 0
	r, err := Measure(m.take(s), s, Options{})
	require.NoError(t, err)
	require.Nil(t, r.Drive)
	require.InDelta(t, 20*math.Log10(0.6), float64(r.Loop.Gain), 0.001)
	for _, turn := range r.Loop.Turns {
		require.InDelta(t, 20*math.Log10(0.6), float64(turn.Gain), 0.001)
	}
}

func TestWithoutALoopThereAreNoTurns(t *testing.T) {
	m, s := ringing(2, 0, 0)
	r, err := Measure(m.take(s), s, Options{})
	require.NoError(t, err)
	require.Nil(t, r.Loop)
	require.Empty(t, r.Warnings)
}

func TestWarningsOfRepeats(t *testing.T) {
	for _, c := range []struct {
		name string
		make func(m *machine, s *signals.Signal)
		want string
	}{
		{"a gap that is too short for the loop", func(m *machine, s *signals.Signal) { s.Steps.Gap, m.loop = 700, 0.9/m.gain }, "are still heard in the next"},
		{"one repeat only", func(m *machine, s *signals.Signal) { s.Steps.Gap, m.loop = 300, 0.1/m.gain }, "once before the next burst"},
		{"other heads", func(m *machine, _ *signals.Signal) { m.loop, m.delays = 0, []float64{121, 263, 405} }, "does not decay as one loop does"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, s := ringing(2, 0, 0.5)
			c.make(&m, &s)
			r, err := Measure(m.take(s), s, Options{})
			require.NoError(t, err)
			require.True(t, told(r, c.want), "%v", r.Warnings)
		})
	}
}
