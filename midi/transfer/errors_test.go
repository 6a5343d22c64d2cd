package transfer

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// TestTimesThatWereMeasuredAreToldRounded holds what a person reads: nobody wants to
// know the nanoseconds.
func TestTimesThatWereMeasuredAreToldRounded(t *testing.T) {
	const waited = 4999829894 * time.Nanosecond
	for want, err := range map[string]error{
		`step "write slot 5": the device is still busy (writing) after 5s, sent 84 times; leave it alone for a while, then try again`: &GaveUpError{
			What: "write slot 5", Means: midi.Busy, Says: "writing", Tries: 84, Waited: waited},
		`step "packet 3": the device asks to hold on again and again, and has not decided after 5s; look at what it shows, then try again`: &GaveUpError{
			What: "packet 3", Means: midi.Hold, Tries: 1, Waited: waited},
		`port raw:x: sending: 3 of 8 bytes went in 3.01s, and no more do: is the cable in, and the device on? Unplug it and plug it in again`: &StuckError{
			Port: "raw:x", Sent: 3, Of: 8, Waited: 3012345678 * time.Nanosecond},
	} {
		require.EqualError(t, err, want)
	}
}
