package exchange

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"echowright/midi"
	"echowright/midi/songclock"
	"echowright/preset"
	"echowright/profiles"
)

// A follower is what a device is told as a MIDI clock goes along: messages come in
// with their times, steps to send come out. It opens no port, starts no goroutine
// and looks at no clock of its own. Whoever sends asks for the next update when the
// one before is done, and gets what the newest tempo wants: none ever waits in line.
type follower struct {
	device *profiles.Device
	unit   int
	clock  songclock.Follower

	wanted FollowWanted
	times  *times           // nil until a first tempo has settled
	held   profiles.Setting // what the device was told last
	heldAt preset.BPM       // the tempo that this belongs to, 0 before
	looked preset.BPM       // the tempo for which that was looked at last
	halved int              // how often the times held are halved

	news news
}

// FollowWanted is what is to sound at one tempo; all others follow from it.
type FollowWanted struct {
	Tempo   preset.BPM
	Heads   []HeadTime // at that tempo
	Setting profiles.Setting
}

// A HeadTime is how late a head plays.
type HeadTime struct {
	Head  int           `json:"head"`
	Delay preset.Millis `json:"delay_ms"`
}

// A NoteTime is a tap that follows the clock by itself: the note value that it is
// set to, beside the delay that is wanted.
type NoteTime struct {
	Parameter string        `json:"parameter"`
	Note      string        `json:"note"`
	Wanted    preset.Millis `json:"wanted_ms"`
	Got       preset.Millis `json:"got_ms"`
	Off       preset.Millis `json:"off_ms"` // + late
}

// A FollowUpdate is what a device is told at once: a whole set of times.
type FollowUpdate struct {
	At     time.Duration    // since the following began
	Tempo  preset.BPM       // to which it belongs
	Halved int              // how often times are halved to be within the device's reach
	Heads  []HeadTime       // what is wanted, halved
	Notes  []NoteTime       // of a device that follows the clock by itself
	Sent   []profiles.Row   // the times that it is told
	Spent  Spent            // what telling took
	sets   profiles.Setting // what the device holds then
}

// newFollower refuses a device of which no time can be set while it sounds.
func newFollower(d *profiles.Device, unit int) (*follower, error) {
	if err := d.CheckUnit(unit); err != nil {
		return nil, err
	}
	why := fmt.Errorf("device %q: it has no times: %w", d.Name, profiles.ErrCannot)
	for _, l := range d.Lines {
		for _, tap := range l.Taps {
			i := tap.Parameter(profiles.RoleNote)
			if i == profiles.None || d.Parameters[i].Of != profiles.Clock {
				i = rootOf(d, tap, d.Rest())
			}
			if i == profiles.None {
				continue
			}
			if why = checkSettable(d, i); why == nil {
				return &follower{device: d, unit: unit}, nil
			}
		}
	}
	return nil, why
}

// hear takes a message of the clock; at counts from any fixed moment. It allocates
// nothing.
func (f *follower) hear(message []byte, at time.Duration) {
	f.clock.Hear(message, at)
	f.news.hear(message)
}

// settled is the tempo as soon as one is known, and as long as the clock comes.
func (f *follower) settled() (preset.BPM, bool) {
	s := f.clock.State()
	return s.Tempo, s.Settled
}

// due reports whether there is something to do: the first setting, or times that
// have gone so far that it would be heard. It allocates nothing.
func (f *follower) due() bool {
	tempo, ok := f.settled()
	if !ok || f.times == nil || tempo == f.looked {
		return ok && f.times == nil
	}
	base := f.times.longest * preset.Millis(math.Ldexp(1, -f.halved))
	was := base * preset.Millis(f.times.tempo/f.looked)
	is := base * preset.Millis(f.times.tempo/tempo)
	return songclock.Heard(was, is)
}

// begin is the first update: everything, in the safe order.
func (f *follower) begin(w FollowWanted, at time.Duration) (FollowUpdate, []midi.Step, error) {
	t, err := newTimes(f.device, f.unit, w.Setting, w.Tempo)
	if err != nil {
		return FollowUpdate{}, nil, err
	}
	s, halved, err := t.within(w.Tempo, 0)
	if err != nil {
		return FollowUpdate{}, nil, err
	}
	steps, err := f.device.SettingSteps(f.unit, s)
	if err != nil {
		return FollowUpdate{}, nil, err
	}
	f.times, f.wanted, f.looked, f.halved = t, w, w.Tempo, halved
	return f.update(s, w.Tempo, at), steps, nil
}

// next is the update that the newest tempo wants; without steps there is nothing
// to send. Times out of the device's reach are told once, and the last ones stay.
func (f *follower) next(at time.Duration) (FollowUpdate, []midi.Step, error) {
	tempo, ok := f.settled()
	if !ok || !f.due() {
		return FollowUpdate{}, nil, nil
	}
	f.looked = tempo
	s, halved, err := f.times.within(tempo, f.halved)
	if errors.Is(err, errBeyond) {
		f.news.beyond(err)
		return FollowUpdate{}, nil, nil
	}
	if err != nil {
		return FollowUpdate{}, nil, err
	}
	f.news.halved(f.halved, halved, tempo)
	f.halved = halved
	steps, err := f.times.steps(f.held, s)
	return f.update(s, tempo, at), steps, err
}

// done says that the device was told all of an update.
func (f *follower) done(u FollowUpdate) { f.held, f.heldAt = u.sets, u.Tempo }

// update is what a setting means at a tempo.
func (f *follower) update(s profiles.Setting, tempo preset.BPM, at time.Duration) FollowUpdate {
	u := FollowUpdate{At: at, Tempo: tempo, Halved: f.halved, Heads: f.heads(tempo), Notes: f.times.notes(s, tempo, f.halved), sets: s}
	rows := f.device.Rows(s)
	for _, m := range f.times.moving {
		if i := m.parameter; f.held.Codes == nil || f.held.Codes[i] != s.Codes[i] {
			u.Sent = append(u.Sent, rows[i])
		}
	}
	return u
}

// heads are the delays wanted at a tempo.
func (f *follower) heads(tempo preset.BPM) []HeadTime {
	all := slices.Clone(f.wanted.Heads)
	for i := range all {
		all[i].Delay *= preset.Millis(f.times.factor(tempo, f.halved))
	}
	return all
}

// notes are the taps that the device puts on notes of the clock by itself.
func (t *times) notes(s profiles.Setting, tempo preset.BPM, halved int) []NoteTime {
	var all []NoteTime
	for _, m := range t.moving {
		if m.kind != movingNote {
			continue
		}
		p, code := t.device.Parameters[m.parameter], s.Codes[m.parameter]
		n := NoteTime{
			Parameter: p.Name, Note: p.Scale.Note(code),
			Wanted: preset.Millis(math.Ldexp(m.number, -halved)) * beat(tempo),
			Got:    preset.Millis(p.Scale.Value(code).Number) * beat(tempo),
		}
		n.Off = n.Got - n.Wanted
		all = append(all, n)
	}
	return all
}

// told is what happened with the clock since it was last asked for, each thing once.
func (f *follower) told(at time.Duration) []string {
	return f.news.since(f.clock.State(), f.heldAt, f.clock.Gone(at), at)
}

// halvings is how often in words.
func halvings(n int) string {
	if n == 0 {
		return "as long as asked"
	}
	return fmt.Sprintf("a %s of what was asked", [...]string{1: "half", 2: "quarter", 3: "8th", 4: "16th", 5: "32nd", 6: "64th"}[n])
}
