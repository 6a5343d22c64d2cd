package measure

import (
	"fmt"
	"math"
	"slices"
)

const (
	// Another way to feed the loop that leaves no more than this times as much
	// explains the take as well.
	asWellFed = 1.05
	// How far the loudest echo has to rise from the noise, dB, for the want of
	// repeats to tell that there is no loop.
	audibleLoop = 20
	// After a repeat has begun it takes so long to be told, s.
	repeatTold = 0.03
)

// quickly is the work spent on another way to feed the loop.
var quickly = effort{1, 5, 1e-3}

// otherFeeds are the other ways to feed the loop that explain the sound as well: in
// little of its band, where a fit is quick.
func (f fitted) otherFeeds() [][]int {
	m := f.machine
	if len(m.feeds) == 0 || f.white {
		return nil
	}
	low := f.sound.thinned(lowRate, lowBand)
	now := low.fitTo(m, f.free, f.rung, quickly)
	var all [][]int
	for _, feeds := range waysToFeed(len(m.delay)) {
		if slices.Equal(feeds, m.feeds) {
			continue
		}
		other := now.machine.clone()
		other.feeds = feeds
		if len(feeds) == 0 {
			other.loop = 0
		}
		if low.fitTo(other, f.free, f.rung, quickly).residual < asWellFed*now.residual {
			all = append(all, feeds)
		}
	}
	return all
}

// feedDoubts are the warnings that the loop calls for, or the want of one. The heads
// bear numbers; heard is how long, s, the note could be listened to.
func (f fitted) feedDoubts(numbers []int, heard float64) []Warning {
	m := f.machine
	if len(m.feeds) > 0 {
		return f.doubtedFeeds(numbers)
	}
	const what = "whether there is a loop cannot be told"
	if last := slices.Max(m.delay); heard < m.first()+last+repeatTold {
		return []Warning{{
			What: fmt.Sprintf("%s: %.0f ms after the note nothing is there to listen to any more, before a repeat of the last head", what, 1000*heard),
			Do:   "let the recording run on until nothing is heard any more",
		}}
	}
	top := f.figures()[2*len(m.delay)] + decibels(peakOf(f.sound.take))
	if rise := top - 10*math.Log10(f.sound.noise); rise < audibleLoop {
		return []Warning{{
			What: fmt.Sprintf("%s: the loudest echo rises only %.0f dB from the noise", what, rise),
			Do:   "play louder, or turn up the echo volume",
		}}
	}
	return nil
}

func (f fitted) doubtedFeeds(numbers []int) []Warning {
	others := f.otherFeeds()
	if len(others) == 0 {
		return nil
	}
	words := make([]string, len(others))
	for i, feeds := range others {
		words[i] = fedBy(feeds, numbers)
	}
	return []Warning{{
		What: fmt.Sprintf("which heads feed the loop cannot be told for sure: %s was taken, %s would explain the take as well", fedBy(f.machine.feeds, numbers), listed(words)),
		Do:   "record a longer take with more feedback, or one head at a time",
	}}
}

func fedBy(feeds, numbers []int) string {
	switch len(feeds) {
	case 0:
		return "no loop"
	case 1:
		if numbers[feeds[0]] == unnamed {
			return "a head that was not named"
		}
		return fmt.Sprintf("head %d", numbers[feeds[0]])
	case len(numbers):
		return "all heads together"
	}
	words := make([]string, len(feeds))
	for i, k := range feeds {
		words[i] = fmt.Sprint(numbers[k])
	}
	return "heads " + listed(words) + " together"
}
