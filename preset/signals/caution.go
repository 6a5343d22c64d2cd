package signals

import "fmt"

// cautions say what is particular about each kind.
var cautions = map[Kind]string{
	KindSweep:  "A sweep puts its whole level into one frequency after another, high ones included, which tweeters and ears stand worst.",
	KindClicks: "Clicks look harmless on a meter that is slower than they are.",
	KindTone:   "A steady tone tires ears and heats tweeters more than music of the same peak.",
	KindSteps:  "The bursts grow louder to the end: set levels by the last one, not by the first.",
}

// Caution is what is to be read before the signal is played: no program can know
// how loud a level in a file will be in a room or on a head.
func (s Signal) Caution() string {
	return fmt.Sprintf("Caution: %.0f s of %s at %g dBFS (peak %.3g of full scale). "+
		"Nobody knows from the file how loud that is: take headphones off, turn loudspeakers down, "+
		"and send it to the machine's input alone, from soft to louder. Turn the machine's repeats down first, or it may howl. %s",
		s.Seconds(), s.Kind(), float64(s.Level), s.Peak(), cautions[s.Kind()])
}
