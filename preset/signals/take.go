package signals

import (
	"fmt"
	"math"

	"echowright/preset"
)

// A Refusal says that a take does not hold the signal it should, or nothing that
// could be measured with it: what was seen, and what to do.
type Refusal struct{ Problem, Do string }

func (r *Refusal) Error() string { return r.Problem + ": " + r.Do }

// longestTake in s is held in memory as a whole.
const longestTake = 1200

// CheckTake reports why a take of the given rate cannot be one of this signal,
// which should be of that kind. Dry is nil if it has no dry channel. The error is
// a [*Refusal] where the take is at fault; anything else is a wrong call.
func (s Signal) CheckTake(kind Kind, rate preset.Hertz, wet, dry []float64) error {
	if err := s.Validate(); err != nil {
		return fmt.Errorf("the signal: %w", err)
	}
	seconds := float64(len(wet)) / float64(rate)
	least := float64(s.Frames()-s.samples(s.Lead+s.Tail)) / float64(s.Rate)
	switch {
	case s.Kind() != kind:
		return fmt.Errorf("the signal is %s, where %s is wanted: give the file that was written beside it", s.Kind(), kind)
	case rate != s.Rate:
		return fmt.Errorf("the take has a rate of %v, the signal %v: record at the signal's rate, or write it at the take's", rate, s.Rate)
	case dry != nil && len(dry) != len(wet):
		return fmt.Errorf("the dry channel has %d samples, the wet one %d: both must be of one length", len(dry), len(wet))
	case seconds < least:
		return &Refusal{Problem: fmt.Sprintf("the take lasts %.1f s and the %s alone %.1f s", seconds, kind, least), Do: "record the whole signal, and its echoes"}
	case seconds > longestTake+s.Seconds():
		return &Refusal{Problem: fmt.Sprintf("the take lasts %.0f s, the signal %.0f s", seconds, s.Seconds()), Do: "cut the take to the one signal"}
	}
	for _, x := range [][]float64{wet, dry} {
		for i, v := range x {
			if !(math.Abs(v) < 1e6) {
				return &Refusal{
					Problem: fmt.Sprintf("sample %d (at %.3f s) is %v, which is no sound", i, float64(i)/float64(rate), v), Do: "export the take again as PCM",
				}
			}
		}
	}
	return nil
}
