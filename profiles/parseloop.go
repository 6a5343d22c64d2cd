package profiles

import (
	"slices"

	"echowright/preset"
)

// loop reads what the n-th line feeds back. What is wrong is told once, of the
// first line: the lines are alike.
func (b *builder) loop(n int, l Line) Loop {
	tell := func(path, format string, args ...any) {
		if n == 0 {
			b.add(path, format, args...)
		}
	}
	f := b.file.Loop
	switch {
	case f == nil && l.named && l.Has(RoleFeedback):
		tell("line.parameter", "there is a feedback, but no [loop] that says where it comes from: give [loop] with from = \"tap\" or \"sum\"")
		return Loop{}
	case f == nil:
		return Loop{From: LoopLine, Tap: None, Tone: ToneMemory}
	case !l.Has(RoleFeedback):
		tell("loop", "is there, but no parameter in [[line.parameter]] with the role feedback")
	}
	out := Loop{From: LoopFrom(f.From), Tap: None, After: f.Level == "after", Tone: ToneAt(f.Tone)}
	if f.Tone == "" {
		out.Tone = ToneMemory
	}
	if !slices.Contains([]ToneAt{ToneMemory, ToneLoop, ToneOutput}, out.Tone) {
		tell("loop.tone", "%q: one of memory, loop, output", f.Tone)
	}
	if f.Level != "" && f.Level != "before" && f.Level != "after" {
		tell("loop.level", "%q: \"before\" or \"after\" the tap's own level and polarity", f.Level)
	}
	b.loopFrom(*f, l, &out, tell)
	return out
}

func (b *builder) loopFrom(f loopFile, l Line, out *Loop, tell func(path, format string, args ...any)) {
	named := slices.Index(b.tapNames(), f.Tap)
	chooses := l.Parameter(RoleFeedbackTap)
	switch {
	case out.From == LoopLine && l.named:
		tell("loop.from", "\"line\": with taps of their own it is one of them or their sum: \"tap\" or \"sum\"")
	case out.From != LoopLine && !slices.Contains([]LoopFrom{LoopTap, LoopSum}, out.From):
		tell("loop.from", "%q: one of line, tap, sum", f.From)
	case out.From != LoopLine && !l.named:
		tell("loop.from", "%q, but there is no [tap]: name the taps, or write \"line\"", f.From)
	case out.From == LoopTap && f.Tap == "" && chooses == None:
		tell("loop.from", "\"tap\", but which? Give tap = NAME, or a parameter with the role feedback-tap")
	case f.Tap != "" && chooses != None:
		tell("loop.tap", "%q stands beside a parameter with the role feedback-tap: it is one or the other", f.Tap)
	case f.Tap != "" && named < 0:
		tell("loop.tap", "%q is no tap: there are %v", f.Tap, b.tapNames())
	case out.From != LoopTap && (f.Tap != "" || chooses != None):
		tell("loop.from", "%q, but a tap is chosen: write \"tap\"", f.From)
	case f.Tap != "":
		out.Tap = named
	case chooses != None:
		b.tapChoices(chooses, tell)
	}
}

func (b *builder) tapNames() []string {
	if b.file.Tap == nil {
		return nil
	}
	return b.file.Tap.Names
}

func (b *builder) tapChoices(parameter int, tell func(path, format string, args ...any)) {
	s := b.device.Parameters[parameter].Scale
	if s == nil {
		return
	}
	for _, word := range s.Words() {
		if !slices.Contains(b.tapNames(), word) {
			tell("scale."+s.Name+".choices", "%q is no tap: there are %v", word, b.tapNames())
			return
		}
	}
}

func (b *builder) limits() {
	f := b.file.Limits
	if f == nil {
		return
	}
	for _, l := range []struct {
		key string
		v   float64
	}{{"longest_ms", f.LongestMs}, {"total_ms", f.TotalMs}, {"distance_ms", f.DistanceMs}} {
		if l.v < 0 {
			b.add("limits."+l.key, "%v: a time above 0, or no such key", l.v)
		}
	}
	if (f.Ascending || f.DistanceMs > 0) && b.file.Tap == nil {
		b.add("limits", "order and distance are of taps, but there is no [tap]")
	}
	b.device.Limits = Limits{
		Longest: preset.Millis(f.LongestMs), Total: preset.Millis(f.TotalMs),
		Distance: preset.Millis(f.DistanceMs), Ascending: f.Ascending,
	}
}

// rests refuses a profile whose device would refuse its own setting at rest.
func (b *builder) rests() {
	rest := b.device.Rest()
	if err := b.device.checkTimes(rest); err != nil {
		b.add("limits", "the setting at rest breaks them: %v; give the times a rest and a rest_step that keep to them", err)
	}
	if err := b.device.checkCircle(rest); err != nil {
		b.add("line.parameter", "at rest, %v; let the source rest at the input's code", err)
	}
}
