// Package compare turns two takes of one playing into their differences: how much
// later, louder and faster the one is, and then, with the two laid one on the
// other, what differs echo by echo, in tone, in decay and in drive, and what is
// left when one is taken from the other.
//
// # How the takes are aligned
//
// What matches is b, read between its samples, scaled and perhaps turned over:
//
//	a(t) ≈ g · b(p + s·t)
//
// The place p is sought first among the envelopes, then among blocks of the sound
// itself, through which a line is laid (coarse.go). From there p, s and g are
// fitted together by least squares in blocks, each weighed by what it leaves
// (fine.go): two machines play their echoes differently, so blocks with other
// echoes count next to nothing beside those in which only the direct sound is
// heard. Where nothing of the takes matches, they are refused (match.go).
//
// The newcomer starts with compare.go, then take.go.
package compare
