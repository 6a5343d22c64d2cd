// Package songclock turns MIDI clock, with the time at which each message came,
// into a tempo and a place in the song. It opens no port, starts no goroutine and
// looks at no clock of its own.
//
// # The tempo
//
// A sender's clocks would come on a straight line t = a + T·n, one every T, 24 to
// the beat; they come with jitter σ. The best that any estimate of T without bias
// can do with N of them is the Cramér–Rao bound. For Gaussian jitter the Fisher
// information about (a, T) is Σ(1, n; n, n²)/σ², and the inverse has for T
//
//	var(T) ≥ σ² / Σ(n − n̄)² = 12·σ² / (N·(N² − 1))
//
// which the straight line of least squares reaches. More clocks are better, until
// the tempo moves: then a line through N clocks is late by N/2 of them. So several
// lines are drawn, through the last 24, 48, 96, 192 and 384 clocks, and the
// longest is taken that differs from none of the shorter ones by more than jitter
// would make it: the differences of nested lines of least squares have the
// difference of their variances (as of any estimate less the best one).
//
// # Which clock it was
//
// Clocks get lost, come twice, or in a heap after a delay. Each has a number on the
// line, and the next is expected one period after where the line is. One that is
// off by more than half a period, and by more than jitter makes likely, gets the
// number of the place where it came: a lost clock does not count as half the tempo
// nor a doubled one as twice. What stays off for several clocks is a tempo.
//
// The newcomer starts with follower.go, then numbers.go and lines.go.
package songclock
