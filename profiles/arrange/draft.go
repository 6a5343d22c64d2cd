package arrange

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"echowright/preset"
	"echowright/profiles"
)

// A draft is a choice put into codes.
type draft struct {
	setting profiles.Setting
	shift   preset.Decibels
	lines   []played // the lines in use; line i of the device is lines[i]
	cost    float64
	finer   float64 // see choice
}

// played is a voice as a line plays it.
type played struct {
	voice voice
	cut   cut
	gain  float64       // of its loop at 1 kHz, 0 without
	at    preset.Millis // when its first echo comes
	given timbre        // what its first echo has passed
}

// draft puts a choice into codes and moves them until nothing gets better.
func (k *deck) draft(w *wish, voices []voice, c choice) (draft, error) {
	made, err := k.route(voices, c.voices)
	if err != nil {
		return draft{}, err
	}
	made.finer = c.finer
	if err := k.setLevels(w, &made); err != nil {
		return draft{}, err
	}
	return made, k.polish(w, &made)
}

// route gives each voice a line, in the order of their first echoes, and sets all
// but the levels.
func (k *deck) route(voices []voice, chosen []int) (draft, error) {
	made := draft{setting: k.device.Rest()}
	order := slices.Clone(chosen)
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(voices[a].first, voices[b].first) })
	for line, v := range order {
		source := profiles.None
		if voices[v].source != none {
			source = slices.Index(order, voices[v].source)
		}
		p, err := k.play(made, line, source, voices[v])
		if err != nil {
			return draft{}, err
		}
		made.lines = append(made.lines, p)
	}
	return made, nil
}

// play sets one line. Its time is what is missing to the first echo after its
// source has been rounded, and its tone likewise.
func (k *deck) play(made draft, line, source int, v voice) (played, error) {
	p := played{voice: v}
	if source != profiles.None {
		p.at, p.given = made.lines[source].at, made.lines[source].given
	}
	s := made.setting
	code, ok := k.device.SourceCode(k.device.Lines[line], source)
	if !ok {
		return p, fmt.Errorf("device %q: line %q cannot be fed from line %q", k.device.Name, k.device.Lines[line].Name, k.device.Lines[source].Name)
	}
	k.put(s, line, profiles.RoleSource, code)
	code = k.time.Nearest(float64(v.first - p.at))
	k.put(s, line, profiles.RoleTime, code)
	p.at += preset.Millis(k.time.Value(code).Number)
	missing := v.timbre.minus(p.given)
	p.cut, _ = k.nearestCut(missing)
	if v.loop > 0 {
		if l, ok := k.nearestLoop(missing, v.loop); ok {
			p.cut, p.gain = l.cut, l.gain
			k.put(s, line, profiles.RoleFeedback, l.code)
		}
	}
	k.put(s, line, profiles.RoleHighCut, p.cut.high)
	k.put(s, line, profiles.RoleLowCut, p.cut.low)
	k.putPolarity(s, line, v.inverted)
	p.given = p.given.plus(p.cut.timbre)
	return p, nil
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

// trains is what each line in use plays, its level 0 dB, without sign.
func (k *deck) trains(w *wish, made draft) ([]voice, error) {
	s := made.setting.Clone()
	for line := range made.lines {
		k.putLevel(s, line, 1)
	}
	n, err := k.device.Network(s)
	if err != nil {
		return nil, fmt.Errorf("device %q: %w", k.device.Name, err)
	}
	alone := make([]voice, len(made.lines))
	for line, p := range made.lines {
		one := preset.Network{Nodes: n.Nodes}
		for _, path := range n.Paths {
			if path.To != preset.Output {
				one.Paths = append(one.Paths, path)
			}
		}
		one.Paths = append(one.Paths, preset.Path{From: line + 1, To: preset.Output, Gain: 1})
		train, err := one.Train(preset.TrainFloor, w.limit)
		if err != nil {
			return nil, err
		}
		alone[line] = p.voice
		alone[line].curve = w.sheet.draw(train, false)
	}
	return alone, nil
}

// putLevel sets a line to the level nearest to an amplitude ratio, 0 dB at most:
// silent where that is nearer than the least level there is.
func (k *deck) putLevel(s profiles.Setting, line int, amplitude float64) {
	if k.level == nil {
		return
	}
	k.put(s, line, profiles.RoleLevel, levelCode(k.level, amplitude))
}

func levelCode(scale *profiles.Scale, amplitude float64) int {
	least, _ := scale.Range()
	if silent, ok := scale.Silent(); ok && amplitude < preset.Decibels(least).Amplitude()/2 {
		return silent
	}
	level := math.Max(float64(preset.FromAmplitude(amplitude)), least)
	code := scale.Nearest(level)
	if scale.Value(code).Number > 0 {
		return scale.AtMost(0)
	}
	return code
}

func levelOf(scale *profiles.Scale, code int) float64 {
	if v := scale.Value(code); v.Word == "" {
		return preset.Decibels(v.Number).Amplitude()
	}
	return 0
}
