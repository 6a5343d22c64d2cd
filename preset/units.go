package preset

import (
	"math"
	"strconv"
)

// Millis is a time in milliseconds.
type Millis float64

// Decibels is a level or a gain: 20·log10 of an amplitude ratio.
type Decibels float64

// Hertz is a frequency or a rate in cycles a second.
type Hertz float64

// Percent is a share of a hundred; of speed, in this program.
type Percent float64

// BPM is a tempo in beats (quarter notes) a minute.
type BPM float64

// Reference is the frequency at which levels and loop gains are stated.
const Reference Hertz = 1000

// Seconds is the time in seconds.
func (m Millis) Seconds() float64 { return float64(m) / 1000 }

// Samples is how many sample periods at rate fit into the time; not rounded.
func (m Millis) Samples(rate Hertz) float64 { return m.Seconds() * float64(rate) }

// SamplesToMillis is the time that n sample periods at rate take.
func SamplesToMillis(n float64, rate Hertz) Millis { return Millis(1000 * n / float64(rate)) }

// Amplitude is the amplitude ratio 10^(d/20).
func (d Decibels) Amplitude() float64 { return math.Pow(10, float64(d)/20) }

// FromAmplitude is the level of an amplitude ratio, without its sign; −Inf for 0.
func FromAmplitude(a float64) Decibels { return Decibels(20 * math.Log10(math.Abs(a))) }

func (m Millis) String() string   { return number(float64(m)) + " ms" }
func (d Decibels) String() string { return number(float64(d)) + " dB" }
func (h Hertz) String() string    { return number(float64(h)) + " Hz" }
func (p Percent) String() string  { return number(float64(p)) + " %" }
func (b BPM) String() string      { return number(float64(b)) + " BPM" }

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
