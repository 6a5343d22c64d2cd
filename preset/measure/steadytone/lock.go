package steadytone

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset/signals"
)

// minTone in Hz: below it the flutter's side bands would meet those of its image.
const minTone = 700

const (
	lockTime  = 1.0  // s of the take in which the tone is looked for
	slack     = 2.0  // the tone may lie this factor above or below the nominal one
	tonesPart = 0.8  // of the power that the tone and its side bands must have
	sideBands = 0.1  // of the frequency, to each side
	silent    = 3e-5 // RMS; −87 dBFS
	evenness  = 0.5  // the quarters of the window lie no further apart in RMS
)

// lock looks for a second in which there is a tone and nothing much else: a take
// may begin with silence or with speech.
type lock struct {
	rate, nominal float64
	window, rest  []float64
	seen          int     // samples
	loudest       float64 // RMS of a window
	purest        float64 // share of a tone in a window

	tone, amplitude float64 // what was found
}

func newLock(o Options) lock {
	return lock{rate: float64(o.Rate), nominal: float64(o.Nominal)}
}

// add says whether the tone is found; the take's samples from then on are in
// window and rest.
func (l *lock) add(block []float64) bool {
	length := smooth(int(lockTime * l.rate))
	l.seen += len(block)
	for {
		n := min(length-len(l.window), len(block))
		l.window, block = append(l.window, block[:n]...), block[n:]
		if len(l.window) < length {
			return false
		}
		if l.find() {
			l.rest = append([]float64(nil), block...)
			return true
		}
		l.window = l.window[:copy(l.window, l.window[length/4:])]
	}
}

func (l *lock) find() bool {
	whole := rms(l.window)
	l.loudest = math.Max(l.loudest, whole)
	if whole < silent {
		return false
	}
	least, most := math.Inf(1), 0.0
	for q := range 4 {
		r := rms(l.window[q*len(l.window)/4 : (q+1)*len(l.window)/4])
		least, most = math.Min(least, r), math.Max(most, r)
	}
	share := l.measure()
	l.purest = math.Max(l.purest, share)
	return share >= tonesPart && least >= evenness*most
}

// measure finds the strongest frequency near the nominal one and returns its
// share, with its side bands, of the power of the window.
func (l *lock) measure() float64 {
	n := len(l.window)
	windowed := make([]float64, n)
	for i, v := range l.window {
		windowed[i] = v * hann(i, n)
	}
	power := powers(fourier.NewFFT(n).Coefficients(nil, windowed))
	hertz := l.rate / float64(n)
	at := func(f float64) int { return max(1, min(len(power)-1, int(math.Round(f/hertz)))) }
	top := at(l.nominal / slack)
	for i := top; i <= at(l.nominal*slack); i++ {
		if power[i] > power[top] {
			top = i
		}
	}
	f := hertz * float64(top)
	band, total, moment := 0.0, 0.0, 0.0
	for i, p := range power[at(20):] { // what lies below is no part of the sound
		total += p
		if g := hertz * float64(i+at(20)); math.Abs(g-f) <= sideBands*f {
			band += p
			moment += p * g
		}
	}
	if band == 0 {
		return 0
	}
	l.tone = moment / band
	l.amplitude = math.Sqrt2 * rms(l.window) * math.Sqrt(band/total)
	return band / total
}

// refusal says why no tone was found.
func (l *lock) refusal() error {
	switch {
	case float64(l.seen) < lockTime*l.rate:
		return tooShort(float64(l.seen) / l.rate)
	case l.loudest < silent:
		return &signals.Refusal{Problem: "the take is silent", Do: "check which channel was recorded and its level"}
	}
	return &signals.Refusal{
		Problem: "the take holds no steady tone near " + number(l.nominal) + " Hz (at best " + number(math.Round(100*l.purest)) + " % of the sound is one)",
		Do:      "record the tone by itself, with the direct sound off, or name the frequency that it was made with",
	}
}

func rms(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}

func hann(i, n int) float64 { return 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n)) }

func powers(s []complex128) []float64 {
	p := make([]float64, len(s))
	for i, c := range s {
		p[i] = real(c)*real(c) + imag(c)*imag(c)
	}
	return p
}
