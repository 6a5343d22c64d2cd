package arrange

import (
	"errors"
	"fmt"
	"math"

	"echowright/preset"
	"echowright/profiles"
)

// A Result is a setting and what will be heard of it. Levels of echoes are on the
// pattern's scale (the unit's loudest head 0 dB): on the device they are Shift
// louder.
type Result struct {
	Setting  profiles.Setting
	Shift    preset.Decibels // device level = pattern level + Shift; never above 0
	Echoes   []Echo          // what was wanted, sorted by time
	Extra    []Extra         // what the device adds unasked, sorted by time
	Error    preset.Decibels // preset.PatternError of the rounded setting
	Direct   Direct
	Warnings []string // what is given up or rounded, in words
}

// An Echo is a wanted echo beside the one that the device makes of it: the one
// nearest in time (and level, where several lie close together) within half of
// [preset.TimingJND], each counted once. GotAt and GotLevel are nil where there is
// none.
type Echo struct {
	At       preset.Millis    `json:"ms"`
	Level    preset.Decibels  `json:"db"`
	GotAt    *preset.Millis   `json:"got_ms"`
	GotLevel *preset.Decibels `json:"got_db"`
}

// Extra is an echo that nothing asked for.
type Extra struct {
	At    preset.Millis   `json:"ms"`
	Level preset.Decibels `json:"db"`
}

// Direct is how far 0 dB on the pattern's scale lies above the direct sound.
// Wanted is nil if the unit does not say, Got is nil if the device has no
// control of the direct sound.
type Direct struct {
	Wanted *preset.Decibels
	Got    *preset.Decibels
}

// A choice of this cost gives every echo: no other is then looked at.
const exactCost = 2e-6

// Arrange finds the setting whose echoes come nearest to the pattern. Its slot
// has no name; parameters that no echo needs are at rest. The error says what is
// wrong with the pattern or missing in the device; whatever the device cannot do
// is a warning.
func Arrange(p preset.Pattern, d *profiles.Device) (Result, error) {
	return ArrangeFor(p, d, Nearest)
}

// result listens to the setting through the device profile, as everybody will.
func (k *deck) result(w *wish, made draft) (Result, error) {
	got, err := k.listen(made, w.limit)
	if err != nil {
		return Result{}, err
	}
	pairs, extra := match(w.train, got)
	r := Result{
		Setting: made.setting,
		Shift:   made.shift,
		Echoes:  listEchoes(pairs),
		Extra:   listExtra(extra),
		Error:   w.error(got),
		Direct:  Direct{Wanted: w.pattern.EchoToDirect},
	}
	if d := k.device; d.Dry != profiles.None {
		ratio := made.shift - d.DryLevel(made.setting)
		r.Direct.Got = &ratio
	}
	r.Warnings = k.tell(w, made, r, pairs, extra)
	return r, nil
}

// listen lists the echoes of a draft. A wanted echo just above the floor may be
// had just below it, so it goes a little lower. What is far below it still is
// followed where it can be, since much of it may fall together.
func (k *deck) listen(made draft, limit preset.Millis) (got []preset.Echo, err error) {
	const lower preset.Decibels = 6
	for _, deeper := range []preset.Decibels{40, lower, 0} {
		got, err = k.heard(made.setting, made.shift, preset.TrainFloor-deeper, limit)
		if !errors.Is(err, preset.ErrTooDense) {
			break
		}
	}
	return above(preset.TrainFloor-lower, got), err
}

// heard is what the setting makes, on the pattern's scale.
func (k *deck) heard(s profiles.Setting, shift, floor preset.Decibels, limit preset.Millis) ([]preset.Echo, error) {
	echoes, err := k.device.Echoes(s, floor+shift, limit)
	if err != nil {
		return nil, fmt.Errorf("device %q: %w", k.device.Name, err)
	}
	for i := range echoes {
		echoes[i].Level -= shift
	}
	return echoes, nil
}

// error is preset.PatternError of what was got. That compares every echo with
// every one near it, which for trains of thousands would take minutes; those are
// compared as curves, the same to a thousandth of a decibel.
func (w *wish) error(got []preset.Echo) preset.Decibels {
	const many = 2000
	want := within(w.train, preset.TrainLimit)
	got = above(preset.TrainFloor, within(got, preset.TrainLimit))
	if len(want) == 0 || len(want)+len(got) < many {
		return preset.PatternError(want, got)
	}
	p, q := w.sheet.draw(want, false), w.sheet.draw(got, false)
	return max(preset.LeastError, preset.Decibels(10*math.Log10(apart(p, q)/dot(p, p))))
}

func within(train []preset.Echo, limit preset.Millis) []preset.Echo {
	n := len(train)
	for n > 0 && train[n-1].At > limit {
		n--
	}
	return train[:n]
}

func above(floor preset.Decibels, train []preset.Echo) []preset.Echo {
	var loud []preset.Echo
	for _, e := range train {
		if e.Level >= floor {
			loud = append(loud, e)
		}
	}
	return loud
}
