package preset

import "time"

// Kind is what carries the sound round in a unit.
type Kind string

// The kinds of unit.
const (
	Tape  Kind = "tape"
	Drum  Kind = "drum"
	Disc  Kind = "disc"
	Other Kind = "other"
)

var kinds = []Kind{Tape, Drum, Disc, Other}

// Kinds returns every kind, in the order in which help shows them.
func Kinds() []Kind { return append([]Kind(nil), kinds...) }

// A Unit is one specimen of an old echo machine: what was measured of it.
// Parts that were not measured are nil.
type Unit struct {
	Name     string    `toml:"name" json:"name"`
	Kind     Kind      `toml:"kind" json:"kind"`
	Notes    string    `toml:"notes" json:"notes,omitempty"`
	Origin   *Origin   `toml:"origin" json:"origin,omitempty"`
	Heads    []Head    `toml:"head" json:"head"`
	Feedback *Feedback `toml:"feedback" json:"feedback,omitempty"`
	Direct   *Direct   `toml:"direct" json:"direct,omitempty"`
	Motion   *Motion   `toml:"motion" json:"motion,omitempty"`
	Drive    *Drive    `toml:"drive" json:"drive,omitempty"`
}

// Origin says where the figures of a unit come from.
type Origin struct {
	Take       string    `toml:"take" json:"take,omitempty"`               // file name of the recording, without its folder
	TakeSHA256 string    `toml:"take_sha256" json:"take_sha256,omitempty"` // of the whole file, 64 lower-case hex digits
	Measured   time.Time `toml:"measured" json:"measured,omitzero"`        // a day; zero if unknown
}

// A Head is one playback head. Level is relative to the loudest head of the
// unit, which has 0 dB. A standard deviation of 0 means that it is not known,
// a cut of 0 Hz that there is none.
type Head struct {
	Head      int      `toml:"head" json:"head"`
	Delay     Millis   `toml:"delay_ms" json:"delay_ms"`
	DelaySD   Millis   `toml:"delay_sd_ms" json:"delay_sd_ms"`
	Level     Decibels `toml:"level_db" json:"level_db"`
	LevelSD   Decibels `toml:"level_sd_db" json:"level_sd_db"`
	Inverted  bool     `toml:"inverted" json:"inverted"`
	LowCutHz  Hertz    `toml:"low_cut_hz" json:"low_cut_hz"`
	HighCutHz Hertz    `toml:"high_cut_hz" json:"high_cut_hz"`
	Inferred  bool     `toml:"inferred" json:"inferred,omitempty"` // not measured: see Predict
}

// Tone is the tone of the way from the unit's input to the head's output.
func (h Head) Tone() Tone { return Tone{LowCut: h.LowCutHz, HighCut: h.HighCutHz} }

// Feedback says which heads feed the loop and how strongly. Gain is that of one
// turn at 1 kHz: with one head every repeat set is that much below the one
// before. With several heads it is the gain of the loudest of them; the others
// are fed in proportion to their levels.
type Feedback struct {
	Heads  []int    `toml:"heads" json:"heads"`
	Gain   Decibels `toml:"gain_db" json:"gain_db"`
	GainSD Decibels `toml:"gain_sd_db" json:"gain_sd_db"`
}

// Direct says how far the loudest head lies below (−) or above the direct sound.
type Direct struct {
	EchoToDirect Decibels `toml:"echo_to_direct_db" json:"echo_to_direct_db"`
}

// Motion is how the carrier moves. SpeedRatio is the speed over the nominal one,
// 0 where that is not known. Wow and flutter are peak deviations of speed.
type Motion struct {
	SpeedRatio     float64 `toml:"speed_ratio" json:"speed_ratio,omitempty"`
	WowPercent     Percent `toml:"wow_percent" json:"wow_percent"`
	WowHz          Hertz   `toml:"wow_hz" json:"wow_hz"`
	FlutterPercent Percent `toml:"flutter_percent" json:"flutter_percent"`
	FlutterHz      Hertz   `toml:"flutter_hz" json:"flutter_hz"`
}

// Drive is how the record path saturates:
//
//	y = (tanh(k·x + b) − tanh b) / (k·(1 − tanh² b)),  k = 10^(gain/20)
//
// with x in fractions of full scale: unity gain for a soft sound, bent by Gain
// and made unsymmetrical by Bias.
type Drive struct {
	Gain Decibels `toml:"gain_db" json:"gain_db"`
	Bias float64  `toml:"bias" json:"bias"`
}

// Head returns the head with that number.
func (u Unit) Head(number int) (Head, bool) {
	for _, h := range u.Heads {
		if h.Head == number {
			return h, true
		}
	}
	return Head{}, false
}

// HeadNumbers lists the numbers of the unit's heads in the order of the profile.
func (u Unit) HeadNumbers() []int {
	numbers := make([]int, len(u.Heads))
	for i, h := range u.Heads {
		numbers[i] = h.Head
	}
	return numbers
}
