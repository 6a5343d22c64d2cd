package songclock

import "echowright/preset"

// share is how much of what can just be noticed a delay may be off before it is
// sent anew. The rest is left for what the estimate is late and the message takes.
const share = 1.0 / 3

// Heard reports whether a delay that a device was last told is so far from the one
// wanted now that it is to be told again: more than a third of what can just be
// noticed ([preset.TimingJND]). Since the comparison is with what was sent last, a
// tempo that wavers about any value moves nothing: to go back, it has to come all
// the way.
func Heard(sent, wanted preset.Millis) bool {
	off := wanted - sent
	return max(off, -off) > share*preset.TimingJND(min(sent, wanted))
}
