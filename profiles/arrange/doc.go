// Package arrange turns a wanted pattern and a device profile into the setting
// whose echoes come nearest to the pattern, and says in words what could not be
// had.
//
// # Lines with sources
//
// A line delays its source by d and feeds its own output back by f, so what it
// gives is Σ f^(n−1)·x_s(t − n·d), n = 1, 2, …. A unit is one memory with several
// heads, m(t) = x(t) + g·m(t − d_f). The two meet like this, head f feeding the
// loop:
//
//   - The loop: a line from the input with time d_f and loop gain g gives
//     g^(n−1)·x(t − n·d_f), all that head f ever plays. One line. If head f is not
//     heard, the line is silent and still serves as a source.
//   - A head k later than f: a line from the loop with time d_k − d_f gives
//     g^(n−1)·x(t − d_k − (n−1)·d_f), its first echo and all its repeats. One line.
//   - A head k earlier than f: its first echo is a line from the input with time
//     d_k, its repeats are a line from the loop with time d_k, g·a_k loud. Two lines.
//
// Three heads with the loop from the last are five lines, and none does less than
// another could. If head f is not heard, the loop may take the first head's line
// for its source in place of the input: it then gives that head's repeats itself,
// and a line is saved. Times longer than the longest line are chained where lines
// are left over.
//
// # Levels and tone
//
// A line's cuts are passed once by whatever passes the line, each turn again.
// Levels and loop gain are meant at 1 kHz, so level and feedback make up for what
// the cuts take there. Each line is given the tone that is still missing once its
// source has had its own: head k's from the input; on the repeats of an earlier
// head, fed by T_f^n, head k's again; on a later head, whose first echo has passed
// the loop's line once already, what is left of T_k/T_f: nothing, if the heads
// are alike. The cuts' own lag (under 0.1 ms a pass above 2 kHz) is not made up for.
//
// A feedback in steps of 1/128 would leave the loop up to 0.15 dB off each turn,
// more than 1 dB by the ninth. The cuts help: within what is hardly heard they
// take hundredths of a decibel at 1 kHz, and of all pairs of feedback and cuts the
// one is taken whose gain comes nearest to the pattern's from below. It never lies
// above the pattern's, so the device never rings longer than asked.
//
// # Taps on one memory
//
// A memory with a loop from one of its taps is what the unit is itself: heads are
// taps, the loop's head is the tap that is fed back (silent, if it is not heard).
// Where the sum of all taps is fed back, levels stand in the loop, and only a unit
// whose heads are all in it can be had whole; for others codes are turned from
// several strengths of the loop on. Of times that are a share of another one those
// of the other are tried first for which heads and loops come nearest to the steps.
//
// # The search
//
// Every use that a line could be put to is a voice (voices.go). Trains of echoes
// are drawn as curves (curve.go) in such a way that [preset.PatternError] becomes
// the squared length of a difference, so that the best levels of a set of voices
// are a small least-squares problem, and sets are compared by the thousand
// (choose.go). Settings are listened to by an ear (ear.go, compare.go), which gives
// the error itself, or the sums that levels are fitted and rounded by (rounding.go).
// The best sets are put into codes (search.go); where a device gives the pattern
// whole, its lines stay in place and are only rounded (truest.go), else each is put
// to whatever use does most (rearrange.go); the same for taps (seats.go and the
// files seat*.go). At the end codes are turned one and two at a time while the error
// of the rounded setting falls (polish.go). On a device so coarse that nothing can
// nearly coincide every code is tried, line by line. Nothing is left to chance, and
// the work is bounded by what was heard, not by a clock: the same pattern gives the
// same setting.
//
// The newcomer starts with arrange.go, then prefer.go and voices.go.
package arrange
