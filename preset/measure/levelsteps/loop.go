package levelsteps

import (
	"fmt"
	"math"
	"math/cmplx"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/signals"
)

// A Loop is how the echo of a burst decays from repeat to repeat. A machine that
// is driven gives less back of a hard sound than of a soft one, so that its first
// repeats fall faster than the later ones.
type Loop struct {
	Delay  preset.Millis   `json:"delay_ms"` // from repeat to repeat, to a few ms
	Gain   preset.Decibels `json:"gain_db"`  // of one turn of a soft sound, at the bursts' frequency
	GainSD preset.Decibels `json:"gain_sd_db"`
	Turns  []Turn          `json:"turn"` // by step, then by number
	// Misfit is how far the turns lie from those of the drive that was fitted, or
	// from each other where the machine was not driven (RMS).
	Misfit preset.Decibels `json:"misfit_db"`
}

// A Turn is what one turn of the loop made of a burst.
type Turn struct {
	Step   int             `json:"step"`       // counted from 1
	Number int             `json:"number"`     // 1 is that from the echo to its first repeat
	Level  preset.Decibels `json:"level_dbfs"` // that went round, as it is heard
	Gain   preset.Decibels `json:"gain_db"`
	Noise  preset.Decibels `json:"noise_db"` // how far Gain may be off by the noise in the take

	wave harmonics // that went round
}

const (
	fewestTurns = 2    // one alone may be the echo of another head
	mostTurns   = 40   // of a burst
	oneLoop     = 1.0  // dB of misfit: more, and it is not one loop that is seen
	spill       = 0.01 // of a burst's echo that the repeats of the one before may be
	turnOff     = 0.02 // dB a turn is known to, beside its noise
)

// repeats are what is heard of the bursts after their echoes.
type repeats struct {
	delay preset.Millis // from one to the next; 0 if none were heard
	turns []Turn
	most  int  // turns of one burst
	stops bool // they end at once where they should fade
}

// repeats measures what follows the echo of every burst until the next is heard.
func (f found) repeats(wet *watch) repeats {
	end := f.echoAt + wet.period()
	if f.from == DirectSound {
		end = f.directAt + wet.period()
	}
	after := f.echoAt + wet.burst + wet.box
	at, ok := wet.rise(after, end-wet.burst, faintest*wet.level(f.echoAt+2*wet.box))
	if !ok {
		return repeats{}
	}
	period := at - f.echoAt
	r := repeats{delay: wet.millis(period)}
	for k, start := range wet.starts {
		before := takeApart(f.echo.cut(wet.x, start), wet.s)
		ratio := 0.0 // of the turn before
		for n := 1; n <= mostTurns && f.echoAt+n*period+wet.burst <= end; n++ {
			now := takeApart(f.echo.cut(wet.x, start+n*period), wet.s)
			r.stops = r.stops || before.size[0]*ratio/2 > now.size[0]+overQuiet*now.noise
			noise := math.Hypot(now.noise/now.size[0], before.noise/before.size[0])
			if !(noise < audible) {
				break
			}
			ratio = now.size[0] / before.size[0]
			r.turns = append(r.turns, Turn{
				Step: k + 1, Number: n, Level: preset.FromAmplitude(before.size[0]),
				Gain: preset.FromAmplitude(ratio), Noise: preset.Decibels(nepers * noise), wave: before,
			})
			r.most, before = max(r.most, n), now
		}
	}
	return r
}

// loop fits the loop to the turns. It is nil where fewer than two of a burst were
// seen, and where they are not those of one loop.
func (r *Result) loop(heard repeats) *Loop {
	if heard.most < fewestTurns || heard.stops {
		return nil
	}
	l := &Loop{Delay: heard.delay, Turns: heard.turns, Gain: -60}
	best, weights := r.loopOff(*l)
	for step := preset.Decibels(8); step > 1e-4; step /= 2 {
		for moved := true; moved; {
			moved = false
			for _, g := range []preset.Decibels{l.Gain - step, l.Gain + step} {
				other := Loop{Gain: g, Turns: l.Turns}
				if sum, _ := r.loopOff(other); sum < best && g < 40 {
					l.Gain, best, moved = g, sum, true
				}
			}
		}
	}
	l.Misfit = preset.Decibels(math.Sqrt(best / weights))
	l.GainSD = preset.Decibels(math.Sqrt(math.Max(1, best/float64(len(l.Turns))) / weights))
	if l.Misfit > oneLoop {
		return nil
	}
	return l
}

// loopOff is how far the turns lie from those that the loop's gain and the drive
// make: the sum of the squares in standard deviations, and of their weights.
func (r *Result) loopOff(l Loop) (sum, weights float64) {
	back := (l.Gain - r.Gain).Amplitude()
	for _, t := range l.Turns {
		sd := math.Hypot(turnOff, float64(t.Noise))
		d := float64(t.Gain-r.turn(t.wave, back)) / sd
		sum, weights = sum+d*d, weights+1/(sd*sd)
	}
	return sum, weights
}

// turn is the gain in dB of one turn of a wave, of which so much goes back to the
// record path: its fundamental behind the drive against the one before it.
func (r *Result) turn(wave harmonics, back float64) preset.Decibels {
	gain := back * r.Gain.Amplitude() // of the turn, but for the drive
	if r.Drive == nil {
		return preset.FromAmplitude(gain)
	}
	const points = 64
	var one complex128
	for i := range points {
		v := 0.0
		for n, c := range wave.value {
			v += real(c * cmplx.Rect(back, 2*math.Pi*float64((n+1)*i%points)/points))
		}
		one += complex(bend(*r.Drive, v)*2/points, 0) * cmplx.Rect(1, -2*math.Pi*float64(i)/points)
	}
	return preset.FromAmplitude(cmplx.Abs(one) / (back * wave.size[0]) * gain)
}

// loopWarnings tell where the decay is not that of one loop, or spoils the curve.
func (r *Result) loopWarnings(heard repeats, s signals.Steps) []measure.Warning {
	switch l := r.Loop; {
	case heard.delay == 0:
		return nil
	case heard.most < fewestTurns:
		return []measure.Warning{{
			What: "the echo is heard again, once before the next burst: a repeat or another head",
			Do:   "to measure how repeats decay make the gap between the bursts longer; else turn the repeats to nought",
		}}
	case l == nil:
		return []measure.Warning{{
			What: "what follows the echo does not decay as one loop does",
			Do:   "leave one head on and let it alone feed the loop, or turn the repeats to nought",
		}}
	default:
		turns := preset.Decibels(math.Floor(float64((s.Burst + s.Gap) / l.Delay)))
		left, allowed := l.Gain*turns-s.Step, preset.FromAmplitude(spill)
		if left <= allowed {
			return nil
		}
		enough := math.Ceil(float64((allowed + s.Step) / min(l.Gain, -0.5)))
		return []measure.Warning{{
			What: fmt.Sprintf("the repeats of a burst are still heard in the next, %.0f dB below it", -float64(left)),
			Do:   fmt.Sprintf("turn the repeats down, or make the gap %.0f ms", math.Ceil(enough*float64(l.Delay)/100)*100),
		}}
	}
}
