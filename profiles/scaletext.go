package profiles

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"echowright/preset/nearest"
)

// The words by which a code is asked for in the text of a value.
const (
	codeSign     = "#"         // #121: code 121, whatever it means
	invertedSign = "inverted " // before a number, on a scale whose codes have a sign
)

var numberAndUnit = regexp.MustCompile(`^([+-]?[0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?)\s*([%A-Za-z]*)$`)

// Parse is the code that comes nearest to a value as a person writes it: a choice,
// "silent", "off", a number with or without its unit ("250ms", "-6 dB", "1.2s"), a
// note value on a scale of those, or "#121" for code 121 itself. A number off the
// scale's ends is an error, since no code means it.
func (s *Scale) Parse(text string) (code int, err error) {
	text = strings.TrimSpace(text)
	if digits, ok := strings.CutPrefix(text, codeSign); ok {
		return s.parseCode(digits)
	}
	if words := s.Words(); len(words) > 0 {
		return s.parseChoice(text, words)
	}
	if code, ok := s.parseWord(text); ok {
		return code, nil
	}
	if s.Unit == "beats" {
		return s.parseNote(text)
	}
	number, inverted := strings.CutPrefix(text, invertedSign)
	v, err := s.parseNumber(number)
	if err != nil {
		return 0, err
	}
	if inverted {
		if code, ok := s.NearestInverted(v); ok {
			return code, nil
		}
		return 0, fmt.Errorf("%q: no code of scale %q turns the sign", text, s.Name)
	}
	return s.inRange(v, text)
}

func (s *Scale) parseCode(digits string) (int, error) {
	code, err := strconv.Atoi(digits)
	if err != nil || !s.Holds(code) {
		return 0, fmt.Errorf("code %q: scale %q has codes %d to %d", digits, s.Name, s.Low, s.High())
	}
	return code, nil
}

func (s *Scale) parseChoice(text string, words []string) (int, error) {
	if code, ok := s.Choose(text); ok {
		return code, nil
	}
	hint := "one of " + strings.Join(words, ", ")
	if near := nearest.Name(text, words); near != "" {
		hint = fmt.Sprintf("did you mean %q?", near)
	}
	return 0, fmt.Errorf("%q is no choice of scale %q: %s", text, s.Name, hint)
}

func (s *Scale) parseWord(text string) (code int, ok bool) {
	switch text {
	case WordSilent:
		return s.Silent()
	case WordOff:
		return s.Off()
	}
	return 0, false
}

func (s *Scale) parseNote(text string) (int, error) {
	var notes []string
	for _, code := range s.Rising() {
		if s.Note(code) == text {
			return code, nil
		}
		notes = append(notes, s.Note(code))
	}
	return 0, fmt.Errorf("%q: scale %q has the note values %s", text, s.Name, strings.Join(notes, ", "))
}

// tell is a code's meaning for people: a number with three decimals at most and its
// unit, or a word.
func (s *Scale) tell(code int) string {
	v := s.Value(code)
	if v.Word != "" {
		return v.Word
	}
	if note := s.Note(code); note != "" {
		return note
	}
	number := strconv.FormatFloat(math.Round(v.Number*1000)/1000, 'f', -1, 64)
	return strings.TrimSpace(number + " " + s.Unit)
}

// parseNumber is the number in the scale's own unit.
func (s *Scale) parseNumber(text string) (float64, error) {
	parts := numberAndUnit.FindStringSubmatch(text)
	if parts == nil {
		return 0, fmt.Errorf("%q: scale %q takes a number%s%s, or %s and a code, such as %s%d", text, s.Name, inUnit(s.Unit), s.wordsToo(), codeSign, codeSign, s.Low)
	}
	v, err := strconv.ParseFloat(parts[1], 64)
	if err != nil {
		return 0, fmt.Errorf("%q: %w", text, err)
	}
	unit := parts[2]
	if to, ok := senses[unit]; ok && unit != "" && to.unit == s.Unit && to.times > 0 && unit != "amplitude" {
		return v * to.times, nil
	}
	if unit != "" {
		return 0, fmt.Errorf("%q: scale %q is%s", text, s.Name, inUnit(s.Unit))
	}
	return v, nil
}

func inUnit(unit string) string {
	if unit == "" {
		return " without a unit"
	}
	return " in " + unit
}

// wordsToo names the words that the scale takes beside numbers.
func (s *Scale) wordsToo() string {
	text := ""
	if _, ok := s.Silent(); ok {
		text += ", or " + WordSilent
	}
	if _, ok := s.Off(); ok {
		text += ", or " + WordOff
	}
	return text
}

// inRange is the nearest code, unless the number lies beyond the scale by more
// than half of its widest step.
func (s *Scale) inRange(v float64, text string) (int, error) {
	if len(s.Rising()) == 0 {
		return 0, fmt.Errorf("%q: no code of scale %q stands for a number", text, s.Name)
	}
	low, high := s.Range()
	slack := s.WorstRounding() + 1e-9*math.Abs(v)
	if v < low-slack || v > high+slack {
		return 0, fmt.Errorf("%q: scale %q reaches from %v to %v%s", text, s.Name, low, high, strings.TrimPrefix(inUnit(s.Unit), " in"))
	}
	return s.Nearest(v), nil
}
