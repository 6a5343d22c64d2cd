package exchange

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"echowright/midi"
	"echowright/midi/port"
	"echowright/preset"
	"echowright/profiles"
)

// FollowOptions say what is to follow a clock, and who is told.
type FollowOptions struct {
	// Wanted works out what is to sound at the first tempo that settles.
	Wanted func(preset.BPM) (FollowWanted, error)
	// Thru passes the clock on to the device, if that is one that follows it by
	// itself; may be nil.
	Thru *Thru

	Updated func(FollowUpdate) error // after each update; an error ends the following
	Said    func(string)             // what happened with the clock, each thing once
	Tempo   func(preset.BPM)         // a few times a second; may be nil
}

// Followed is how following ended.
type Followed struct {
	Tempo   preset.BPM // the clock's, 0 where none was known
	Last    FollowUpdate
	Updates int  // sent
	Halfway bool // one more was begun and not ended: what the device holds is not known
	Spent   Spent
}

// Follow keeps the times of what sounds on the device with a MIDI clock that comes
// on another port, until ctx ends or the clock's port does. The slots stay as they
// are. With the first tempo that settles everything is set, in the safe order;
// from then on only times are, and only when that would be heard. While one update
// is under way the next is not worked out; after it the newest tempo counts. An
// update that has begun is finished, so that the device always holds a whole set of
// times; only where it does not answer is that not known, which the error says.
func (s *Session) Follow(ctx context.Context, clock port.Port, o FollowOptions) (Followed, error) {
	core, err := newFollower(s.Device, s.Unit)
	if err != nil {
		return Followed{}, err
	}
	if !followsClock(s.Device) {
		o.Thru = nil
	}
	f := &following{session: s, options: o, core: core, wake: make(chan struct{}, 1), began: s.Now()}
	if _, err := s.identify(ctx, &f.ended.Spent); err != nil {
		return f.ended, err
	}
	listening, stop := context.WithCancel(ctx)
	deaf := make(chan error, 1)
	var done sync.WaitGroup
	done.Go(func() { deaf <- f.listen(listening, clock) })
	err = f.run(ctx, deaf)
	stop()
	done.Wait()
	f.ended.Tempo, _ = f.core.settled()
	return f.ended, err
}

// followsClock reports whether a tap of the device can be put on notes of the clock.
func followsClock(d *profiles.Device) bool {
	return slices.ContainsFunc(d.Parameters, func(p profiles.Parameter) bool {
		return p.Role == profiles.RoleNote && p.Of == profiles.Clock
	})
}

// following is a follower between two ports.
type following struct {
	session *Session
	options FollowOptions
	began   time.Time
	ended   Followed
	wake    chan struct{} // rung when something is due

	mu   sync.Mutex
	core *follower
}

func (f *following) now() time.Duration { return f.session.Now().Sub(f.began) }

// listen hands on what the clock's port receives until that fails or ctx ends.
func (f *following) listen(ctx context.Context, clock port.Port) error {
	var framer midi.Framer
	var at time.Duration
	var passing error
	hear := func(m midi.Frame) {
		if m.Fault != midi.Whole {
			return
		}
		f.core.hear(m.Bytes, at)
		if f.options.Thru != nil && isTransport(m.Bytes) && passing == nil {
			passing = f.options.Thru.Pass(ctx, m.Bytes)
		}
	}
	for passing == nil {
		b, err := clock.Receive(ctx)
		if err != nil {
			return fmt.Errorf("the clock: %w", err)
		}
		f.mu.Lock()
		at = f.now()
		framer.Feed(b, hear)
		due := f.core.due()
		f.mu.Unlock()
		if due {
			f.ring()
		}
	}
	return fmt.Errorf("passing the clock on to the device: %w", passing)
}

// isTransport reports whether a message is clock, start, continue or stop.
func isTransport(m []byte) bool {
	return len(m) == 1 && (m[0] == midi.TimingClock || m[0] >= midi.Start && m[0] <= midi.Stop)
}

func (f *following) ring() {
	select {
	case f.wake <- struct{}{}:
	default: // it rings already
	}
}

// lookEvery is how often it is looked whether the clock still comes.
const lookEvery = 250 * time.Millisecond

// run sends what is due until ctx ends, which is no failure.
func (f *following) run(ctx context.Context, deaf <-chan error) error {
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case err := <-deaf:
			if ctx.Err() != nil {
				return nil
			}
			return err
		case <-look.C:
			f.tell()
		case <-f.wake:
			if err := f.update(ctx); err != nil {
				return err
			}
		}
	}
}

// tell says what happened with the clock.
func (f *following) tell() {
	f.mu.Lock()
	words := f.core.told(f.now())
	tempo, _ := f.core.settled()
	f.mu.Unlock()
	for _, w := range words {
		f.options.Said(w)
	}
	if f.options.Tempo != nil && tempo > 0 {
		f.options.Tempo(tempo)
	}
}

// update sends what is due now.
func (f *following) update(ctx context.Context) error {
	u, steps, err := f.due()
	if err != nil || ctx.Err() != nil {
		return err
	}
	if len(steps) > 0 {
		if u, err = f.send(ctx, u, steps); err != nil {
			return err
		}
		if err := f.options.Updated(u); err != nil {
			return err
		}
	}
	f.tell()
	return nil
}

// send tells the device an update, to its end also if ctx ends meanwhile.
func (f *following) send(ctx context.Context, u FollowUpdate, steps []midi.Step) (FollowUpdate, error) {
	finish, cancel := outlasting(ctx, settleTime)
	defer cancel()
	r, err := f.session.Link.Run(finish, steps)
	u.Spent.add(r)
	f.ended.Spent.add(r)
	if err != nil {
		f.ended.Halfway = true
		return u, fmt.Errorf("following the clock to %.1f BPM: %w; the device may hold some of the times before and some of the new ones: "+
			"load a slot, or follow again", float64(u.Tempo), err)
	}
	f.ended.Last = u
	f.ended.Updates++
	f.mu.Lock()
	defer f.mu.Unlock()
	f.core.done(u)
	if f.core.due() {
		f.ring()
	}
	return u, nil
}

// outlasting is a context that ends so long after ctx.
func outlasting(ctx context.Context, by time.Duration) (context.Context, context.CancelFunc) {
	longer, cancel := context.WithCancel(context.WithoutCancel(ctx))
	stop := context.AfterFunc(ctx, func() {
		defer cancel()
		late := time.NewTimer(by)
		defer late.Stop()
		select {
		case <-late.C:
		case <-longer.Done():
		}
	})
	return longer, func() { stop(); cancel() }
}

// due is what is to be sent now.
func (f *following) due() (FollowUpdate, []midi.Step, error) {
	f.mu.Lock()
	tempo, settled := f.core.settled()
	first := settled && f.core.times == nil
	f.mu.Unlock()
	if first {
		return f.first(tempo)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.core.next(f.now())
}

// first is the setting that all others follow from. While it is worked out the
// clock goes on being heard.
func (f *following) first(tempo preset.BPM) (FollowUpdate, []midi.Step, error) {
	w, err := f.options.Wanted(tempo)
	if err != nil {
		return FollowUpdate{}, nil, err
	}
	if err := f.checkLoop(w); err != nil {
		return FollowUpdate{}, nil, err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.core.begin(w, f.now())
}

// errHowls refuses a loop that grows with every turn.
var errHowls = errors.New("it could grow louder with every turn")

// checkLoop is [Session.CheckRunaway] for what goes into no slot.
func (f *following) checkLoop(w FollowWanted) error {
	gain := f.session.Device.LoopGain(w.Setting)
	switch {
	case gain >= 0:
		return fmt.Errorf("at %.1f BPM the loop on device %q would have %+.1f dB a turn: %w; nothing was set: lower the unit's feedback",
			float64(w.Tempo), f.session.Device.Name, float64(gain), errHowls)
	case gain > closeToRunaway:
		f.session.warn("the loop's gain is %+.1f dB a turn, close to running away: turn your monitors down", float64(gain))
	}
	return nil
}
