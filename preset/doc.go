// Package preset holds what the trade talks about: the unit (one specimen of an
// old echo machine) with its heads, feedback, motion and drive; the pattern of
// echoes wanted from a device; tempo and note values. It turns a unit into a
// pattern and a pattern into the train of echoes that is heard, and does no I/O.
//
// # The model of a unit
//
// The dry note x enters a memory m (tape, drum or disc) through the record
// path, and each playback head k reads the memory d_k later:
//
//	m(t)  = x(t) + Σ g_j · m(t − d_j)      over the heads j that feed the loop
//	wet(t) = Σ a_k · m(t − d_k)            over the heads k that are heard
//
// The tone of a head (one-pole low and high cut) is that of the whole way from
// the input to the head's output, so that a repeat has passed the tone of the
// fed-back head once more each turn. Levels a_k and loop gains g_j are stated at
// [Reference] (1 kHz), delays for the band 300 Hz to 3 kHz, so that a dull head
// is read neither as a quiet nor as a late one.
//
// The newcomer starts with unit.go, then pattern.go and network.go.
package preset
