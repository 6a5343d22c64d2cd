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
// matters. The ringing of the note is filtered out by a linear predictor learnt
// from its first milliseconds, and the take is deconvolved by what remains of the
// attack, with templates of several lengths: the peaks that most of them agree on
// are echoes. Sets of peaks are judged by how well they predict the other peaks
// as their repeats. The best few are fitted to the attacks alone, then to a dull
// picture of the take (where wow is looked for), then to more and more of its
// band; drive, a steeper tone and flutter are added only where they explain what
// is left, by much. Where the likeliest set does not explain the take, what its fit
// leaves shows which echo was overlooked. Where the note rings over its echoes so
// that the take tells too little, the fit to the attacks stands.
//
// Delays are those of the memory alone: the tone's own group delay (a high cut at
// 3 kHz: 0.05 ms) is not counted. Levels and loop gain are at 1 kHz and contain
// the tone once.
//
// A newcomer starts with take.go and heads.go, then coarse.go (the start),
// refine.go (the way of a fit), pursue.go (a better start), extras.go (motion, drive
// and other tones), play.go and machine.go (the model), speed.go (the motion over
// the take). Two channels begin with dry.go.
package measure
