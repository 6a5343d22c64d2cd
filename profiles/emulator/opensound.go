package emulator

import (
	"fmt"
	"math"
	"slices"

	"echowright/preset"
)

const (
	openTaps  = 4
	openBytes = 32 // of a memory
	openSteps = 10 // of time, in a millisecond
)

// openSound is the codes of one sound.
type openSound struct {
	taps          [openTaps]openTap
	feedback, dry int
}

type openTap struct{ time, level, polarity int }

// The highest codes.
const (
	topTime     = 16383
	topLevel    = 1023
	topFeedback = 1000
)

// control is a Global Parameter Control message (CA-024) from the length of its
// slot path on: lengths, slot path, then pairs of a parameter and a value, low 7
// bits first. Another path, or pairs that do not come out even, is not for the
// unit; a pair that it does not know is passed over, the others are not.
func (s *openSound) control(data []byte) {
	const lengths, pair = "\x01\x01\x02", 3
	if len(data) < 5 || string(data[:3]) != lengths || data[3] != 0x02 || len(data[5:])%pair != 0 {
		return
	}
	slot := int(data[4])
	for p := data[5:]; len(p) > 0; p = p[pair:] {
		s.set(slot, p[0], int(p[1])|int(p[2])<<7)
	}
}

// set: slot 0 is the unit, 1 to 4 are the taps.
func (s *openSound) set(slot int, parameter byte, code int) {
	var place *int
	top := 0
	switch tap := slot - 1; {
	case slot == 0 && parameter == 0:
		place, top = &s.feedback, topFeedback
	case slot == 0 && parameter == 1:
		place, top = &s.dry, topLevel
	case slot == 0 || slot > openTaps:
	case parameter == 0:
		place, top = &s.taps[tap].time, topTime
	case parameter == 1:
		place, top = &s.taps[tap].level, topLevel
	case parameter == 2:
		place, top = &s.taps[tap].polarity, 1
	}
	if place != nil && code <= top {
		*place = code
	}
}

// bytes is the memory as it is dumped: 16 bits go high byte first.
func (s *openSound) bytes() []byte {
	var b []byte
	wide := func(code int) { b = append(b, byte(code>>8), byte(code)) }
	for _, t := range s.taps {
		wide(t.time)
		wide(t.level)
		b = append(b, byte(t.polarity), 0)
	}
	wide(s.feedback)
	wide(s.dry)
	return append(b, 0, 0, 0, 0)
}

// openSoundOf is the way back; false where a code is too high or something
// stands where zero should be.
func openSoundOf(b []byte) (s openSound, ok bool) {
	wide := func(at int) int { return int(b[at])<<8 | int(b[at+1]) }
	ok = true
	for i := range s.taps {
		at := i * 6
		t := openTap{wide(at), wide(at + 2), int(b[at+4])}
		ok = ok && t.time <= topTime && t.level <= topLevel && t.polarity <= 1
		s.taps[i] = t
	}
	s.feedback, s.dry = wide(24), wide(26)
	ok = ok && s.feedback <= topFeedback && s.dry <= topLevel
	return s, ok && string(b) == string(s.bytes())
}

func (s openSound) parameters() []parameter {
	var all []parameter
	for i, t := range s.taps {
		tap := fmt.Sprintf("tap %d ", i+1)
		all = append(all, parameter{tap + "time", t.time}, parameter{tap + "level", t.level}, parameter{tap + "polarity", t.polarity})
	}
	return append(all, parameter{"feedback", s.feedback}, parameter{"dry level", s.dry})
}

// setParameters is the way back.
func (s *openSound) setParameters(codes []int) {
	for i := range s.taps {
		s.taps[i] = openTap{codes[3*i], codes[3*i+1], codes[3*i+2]}
	}
	s.feedback, s.dry = codes[3*openTaps], codes[3*openTaps+1]
}

func (s openSound) sound() Sound {
	return Sound{
		unit: openParameterName, codes: s.parameters(), stored: s.bytes(), dry: openLevel(s.dry),
		arrivals: func(limit preset.Millis) ([]arrival, error) {
			heard, err := s.heard(int(limit * openSteps))
			return stepped(heard, openSteps), err
		},
	}
}

// heard is the sum of the taps, one amplitude for each step of time:
//
//	m(t) = x(t) + f · heard(t),  heard(t) = Σ level_i · p_i · m(t − d_i)
//
// A tap at no delay hears m(t) itself: then m(t)·(1 − f·a) = x(t) + f·(the others).
func (s *openSound) heard(steps int) ([]float64, error) {
	f := float64(s.feedback) / topFeedback
	places := s.places()
	round := 0.0
	for _, p := range places {
		round += f * math.Abs(p.gain)
	}
	if round >= 1 {
		return nil, fmt.Errorf("%w: feedback %d sends %.3f of what the taps hear round again", ErrHowls, s.feedback, round)
	}
	at0 := 0.0
	if places[0].time == 0 {
		at0, places = places[0].gain, places[1:]
	}
	memory, heard := make([]float64, steps+1), make([]float64, steps+1)
	memory[0] = 1
	for t := range heard {
		for _, p := range places {
			if t >= p.time {
				heard[t] += p.gain * memory[t-p.time]
			}
		}
		memory[t] = (memory[t] + f*heard[t]) / (1 - f*at0)
		heard[t] += at0 * memory[t]
	}
	return heard, nil
}

// place is where one tap stands, or several that stand together.
type place struct {
	time int
	gain float64
}

// places are sorted by time.
func (s *openSound) places() []place {
	var places []place
	for _, t := range s.taps {
		gain := openLevel(t.level)
		if t.polarity == 1 {
			gain = -gain
		}
		at, found := slices.BinarySearchFunc(places, t.time, func(p place, time int) int { return p.time - time })
		if !found {
			places = slices.Insert(places, at, place{time: t.time})
		}
		places[at].gain += gain
	}
	return places
}

// openLevel: 0 is −102.3 dB, each step 0.1 dB.
func openLevel(code int) float64 { return math.Pow(10, (-102.3+0.1*float64(code))/20) }

// openFactory is the memory as it leaves the maker: four taps, wider from memory
// to memory, softer one after the other, every second of them inverted in the
// later half.
func openFactory() []openSound {
	slots := make([]openSound, openSlots)
	for n := range slots {
		s := openSound{feedback: 60 + 20*n, dry: topLevel}
		for i := range s.taps {
			s.taps[i] = openTap{time: (700 + 180*n) * (i + 1), level: 960 - 40*i}
			if n >= openSlots/2 {
				s.taps[i].polarity = i % 2
			}
		}
		slots[n] = s
	}
	return slots
}
