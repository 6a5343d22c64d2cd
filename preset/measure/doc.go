// Package measure turns the recording of a note and its echoes into the profile
// of the unit that made them: delay, level and polarity of each head, which of
// them feed the loop and how strongly, tone, and how far the echoes lie below
// the direct sound. It sees samples and gives figures: no files, no clock.
//
// # The method
//
// The machine is played along the take, sample by sample. What it puts out at a
// moment depends only on what was recorded at least one delay earlier, so the
// direct sound can be had as it goes: take minus echoes, as long as the note
// lasts. After the note has ended nothing may be left but noise. The figures
// that leave the least, by least squares, are the unit's. The unknown note is
// thereby eliminated for every set of figures that is tried, which is variable
// projection; drive and motion need no other mathematics.
//
// Least squares finds the bottom of the valley it is set down in, so the start
// matters: the ringing of the note is filtered out by a linear predictor learnt
// from its first milliseconds, the take is deconvolved by what remains of the
// attack, and sets of peaks are judged by how well they predict the other peaks
// as their repeats. The best few are fitted to the attack alone, the winner to
// the whole take.
//
// Delays are those of the memory alone: the tone's own group delay (a high cut at
// 3 kHz: 0.05 ms) is not counted. Levels and loop gain are at 1 kHz and contain
// the tone once.
//
// A newcomer starts with take.go, then coarse.go and machine.go.
package measure
