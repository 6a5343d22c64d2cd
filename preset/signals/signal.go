// Package signals turns a few figures into a test signal (sweep, clicks, steady
// tone, level steps), sample by sample, and into the small file that lies beside
// its WAV and lets a recording of it be undone again.
//
// # Level
//
// Levels are in dBFS as AES17-2015 has them: 0 dBFS is the RMS value of a sine
// that just reaches full scale. So a tone at −20 dBFS has a peak of 0.1 of full
// scale. Clicks are stated by their peak: that of a sine of the same level. No
// sample of a signal lies above the peak of its stated level.
package signals

import (
	"math"

	"echowright/preset"
)

// DefaultLevel of every signal: loud enough to measure with, and soft enough not
// to hurt at once where it reaches a loudspeaker by mistake.
const DefaultLevel preset.Decibels = -20

// A Signal is a test signal by the figures it is made from. Exactly one of
// Sweep, Clicks, Tone and Steps is there. Lead is the silence before it, from
// which the noise of a recording is known, and Tail the time left for echoes.
type Signal struct {
	Rate   preset.Hertz    `toml:"rate_hz" json:"rate_hz"`
	Level  preset.Decibels `toml:"level_dbfs" json:"level_dbfs"`
	Lead   preset.Millis   `toml:"lead_ms" json:"lead_ms"`
	Tail   preset.Millis   `toml:"tail_ms" json:"tail_ms"`
	Sweep  *Sweep          `toml:"sweep" json:"sweep,omitempty"`
	Clicks *Clicks         `toml:"clicks" json:"clicks,omitempty"`
	Tone   *Tone           `toml:"tone" json:"tone,omitempty"`
	Steps  *Steps          `toml:"steps" json:"steps,omitempty"`
}

// A Sweep is an exponential sweep (A. Farina, AES 108th Convention, 2000,
// preprint 5093):
//
//	x(t) = sin(2π·From·L·(e^(t/L) − 1)),  L = Seconds/ln(To/From)
//
// faded in and out along half a cosine, within its Seconds.
type Sweep struct {
	From    preset.Hertz  `toml:"from_hz" json:"from_hz"`
	To      preset.Hertz  `toml:"to_hz" json:"to_hz"`
	Seconds float64       `toml:"seconds" json:"seconds"`
	FadeIn  preset.Millis `toml:"fade_in_ms" json:"fade_in_ms"`
	FadeOut preset.Millis `toml:"fade_out_ms" json:"fade_out_ms"`
}

// TimeConstant is L in seconds: the time in which the sweep's frequency grows by
// the factor e.
func (s Sweep) TimeConstant() float64 { return s.Seconds / math.Log(float64(s.To/s.From)) }

// Ahead is by how much the response of harmonic n lies before the linear one
// once the sweep is undone: L·ln n.
func (s Sweep) Ahead(n int) preset.Millis {
	return preset.Millis(1000 * s.TimeConstant() * math.Log(float64(n)))
}

// Clicks are pulses limited to the band below HighCut, Spacing from peak to peak.
type Clicks struct {
	Count   int           `toml:"count" json:"count"`
	Spacing preset.Millis `toml:"spacing_ms" json:"spacing_ms"`
	HighCut preset.Hertz  `toml:"high_cut_hz" json:"high_cut_hz"`
}

// A Tone is a steady sine. 3,150 Hz is the frequency of AES6 and IEC 60386.
type Tone struct {
	Frequency preset.Hertz  `toml:"frequency_hz" json:"frequency_hz"`
	Seconds   float64       `toml:"seconds" json:"seconds"`
	Fade      preset.Millis `toml:"fade_ms" json:"fade_ms"`
}

// Steps are bursts of a sine from soft to hard, each Step louder than the one
// before. The last has the level of the signal.
type Steps struct {
	Frequency preset.Hertz    `toml:"frequency_hz" json:"frequency_hz"`
	Count     int             `toml:"count" json:"count"`
	Step      preset.Decibels `toml:"step_db" json:"step_db"`
	Burst     preset.Millis   `toml:"burst_ms" json:"burst_ms"`
	Gap       preset.Millis   `toml:"gap_ms" json:"gap_ms"`
	Fade      preset.Millis   `toml:"fade_ms" json:"fade_ms"`
}

// Kind names a kind of signal, as the command line and the file do.
type Kind string

// The kinds of signal.
const (
	KindSweep  Kind = "sweep"
	KindClicks Kind = "clicks"
	KindTone   Kind = "tone"
	KindSteps  Kind = "steps"
)

// Kinds returns every kind, in the order in which help shows them.
func Kinds() []Kind { return []Kind{KindSweep, KindClicks, KindTone, KindSteps} }

// Kind of the signal, "" if it has not exactly one.
func (s Signal) Kind() Kind {
	if kinds := s.kinds(); len(kinds) == 1 {
		return kinds[0]
	}
	return ""
}

func (s Signal) kinds() []Kind {
	var kinds []Kind
	for i, there := range []bool{s.Sweep != nil, s.Clicks != nil, s.Tone != nil, s.Steps != nil} {
		if there {
			kinds = append(kinds, Kinds()[i])
		}
	}
	return kinds
}

// Default is a signal of the kind that does for most machines, at 48 kHz:
//
//   - sweep: 20 Hz to 20 kHz in 15 s. L·ln 2 is 1.5 s, so that as much of echoes
//     stays clear of their own distortion (30 s of sweep leave 3 s clear, but a
//     wavering speed smears what it shows, the more the longer it is);
//   - clicks: 16 of them 3 s apart, below 8 kHz;
//   - tone: 3,150 Hz for 30 s;
//   - steps: 12 bursts of 400 Hz, 3 dB apart. A burst of 100 ms has died before
//     the first head of most machines answers, and five harmonics of 400 Hz pass
//     even a dull one.
//
// An unknown kind gives the zero Signal.
func Default(kind Kind) Signal {
	s := Signal{Rate: 48_000, Level: DefaultLevel, Lead: 500}
	switch kind {
	case KindSweep:
		s.Tail = 5000
		s.Sweep = &Sweep{From: 20, To: 20_000, Seconds: 15, FadeIn: 100, FadeOut: 5}
	case KindClicks:
		s.Clicks = &Clicks{Count: 16, Spacing: 3000, HighCut: 8000}
	case KindTone:
		s.Tail = 1000
		s.Tone = &Tone{Frequency: 3150, Seconds: 30, Fade: 20}
	case KindSteps:
		s.Steps = &Steps{Frequency: 400, Count: 12, Step: 3, Burst: 100, Gap: 1500, Fade: 5}
	default:
		return Signal{}
	}
	return s
}
