package arrange

import (
	"cmp"
	"fmt"
	"slices"

	"echowright/preset"
	"echowright/profiles"
)

// A draft is a choice put into codes.
type draft struct {
	setting profiles.Setting
	shift   preset.Decibels
	lines   []voice // the lines in use; line i of the device plays lines[i]
	cost    float64
	finer   float64 // see choice
}

// draft puts a choice into codes and moves them until nothing gets better.
func (k *deck) draft(w *wish, voices []voice, c choice) (draft, error) {
	made, err := k.route(voices, c)
	if err != nil {
		return draft{}, err
	}
	k.setLevels(w, &made)
	return made, k.polish(w, &made)
}

// route gives each voice a line, in the order of their first echoes, and sets all
// but the levels.
func (k *deck) route(voices []voice, c choice) (draft, error) {
	made := draft{setting: k.device.Rest(), finer: c.finer}
	order := slices.Clone(c.voices)
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(voices[a].first, voices[b].first) })
	for line, number := range order {
		v := voices[number]
		source := profiles.None
		if v.source != none {
			source = slices.Index(order, v.source)
		}
		if err := k.set(made.setting, line, source, v); err != nil {
			return draft{}, err
		}
		made.lines = append(made.lines, v)
	}
	return made, nil
}

// set gives a line all of a voice but its level.
func (k *deck) set(s profiles.Setting, line, source int, v voice) error {
	l := k.device.Lines[line]
	code, ok := k.device.SourceCode(l, source)
	if !ok {
		return fmt.Errorf("device %q: line %q cannot be fed from line %q", k.device.Name, l.Name, k.device.Lines[source].Name)
	}
	k.put(s, line, profiles.RoleSource, code)
	k.put(s, line, profiles.RoleTime, v.time)
	k.put(s, line, profiles.RoleHighCut, v.cut.high)
	k.put(s, line, profiles.RoleLowCut, v.cut.low)
	if v.gain > 0 {
		k.put(s, line, profiles.RoleFeedback, v.feedback)
	}
	k.putPolarity(s, line, v.inverted)
	return nil
}

func (k *deck) putPolarity(s profiles.Setting, line int, inverted bool) {
	i := k.device.Lines[line].Parameter(profiles.RolePolarity)
	if i == profiles.None || !inverted {
		return
	}
	if code, ok := k.device.Parameters[i].Scale.Choose(profiles.WordInverted); ok {
		s.Codes[i] = code
	}
}
