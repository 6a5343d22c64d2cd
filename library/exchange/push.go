package exchange

import (
	"bytes"
	"context"
	"fmt"

	"echowright/preset"
	"echowright/profiles"
)

// Pushed is what came of writing a slot.
type Pushed struct {
	Slot int `json:"slot"`
	Spent
	Verified    string                `json:"verified"` // "yes", "no" or "unreadable"
	Holds       Holds                 `json:"holds"`
	Snapshot    string                `json:"snapshot"` // the name under which the old content is kept, "" where nothing was overwritten or it is not known
	Differences []profiles.Difference `json:"differences"`
}

// The words of Pushed.Verified.
const (
	VerifiedYes        = "yes"
	VerifiedNo         = "no"
	VerifiedUnreadable = "unreadable" // the device cannot be asked what it holds
)

// PushOptions say how to push.
type PushOptions struct {
	All          bool   // write the slot also if it holds the setting already
	AllowRunaway bool   // also a setting whose loop grows with every turn
	Note         string // for people: whose echoes these are
	Kept         string // a snapshot that may hold what the slot holds already, "" for none: then no other is made
}

// Push writes a setting into a slot: it makes sure of the device, keeps what the
// slot holds, notes what it is going to do, writes, reads back and compares. On
// any failure after the first byte the old content is put back and read back; the
// error is an *[UnwrittenError] then, and a *[DiffersError] within it where the
// slot held something else than was written. What a device that cannot be read
// was told is kept as what is last known of it.
func (s *Session) Push(ctx context.Context, number int, setting profiles.Setting, o PushOptions) (Pushed, error) {
	done := Pushed{Slot: number, Verified: VerifiedNo, Holds: HoldsBefore, Differences: []profiles.Difference{}}
	if err := s.checkPush(number, setting, o.AllowRunaway); err != nil {
		return done, err
	}
	identity, err := s.identify(ctx, &done.Spent)
	if err != nil {
		return done, err
	}
	if !s.Device.Readable() {
		return s.pushUnread(ctx, done, setting, o.Note)
	}
	old, err := s.readSlot(ctx, &done.Spent, number)
	if err != nil {
		return done, fmt.Errorf("%w; nothing was written", err)
	}
	asked := content{slot: number, memory: s.Device.AppendSlot(nil, setting)}
	if !o.All && bytes.Equal(old.Memory, asked.memory) {
		done.Verified, done.Holds = VerifiedYes, HoldsAsked
		return done, nil
	}
	near, err := s.bystanders(ctx, &done.Spent, []int{number})
	if err != nil {
		return done, err
	}
	if done.Snapshot = o.Kept; !s.isKept(o.Kept, old) {
		done.Snapshot, err = s.keep(ctx, []Slot{old}, identity, fmt.Sprintf("slot %d before a push", number))
	}
	if err != nil {
		return done, err
	}
	return s.pushOver(ctx, done, asked, old, near, o.Note)
}

// isKept reports whether a snapshot of the library holds what a slot holds, to the
// last byte; the snapshot is read for it, so one that has been hurt does not count.
func (s *Session) isKept(snapshot string, slot Slot) bool {
	if snapshot == "" {
		return false
	}
	kept, err := s.keeper().Snapshot(snapshot)
	if err != nil {
		return false
	}
	memory, err := s.memoryIn(kept, slot.Number)
	return err == nil && bytes.Equal(memory, slot.Memory)
}

// pushOver writes the one slot, with the journal open meanwhile.
func (s *Session) pushOver(ctx context.Context, done Pushed, asked content, old Slot, near []bystander, note string) (Pushed, error) {
	intent, err := s.begin(ctx, doingPush, note, done.Snapshot, []content{asked})
	if err != nil {
		return done, err
	}
	before := content{slot: asked.slot, memory: old.Memory, exact: true}
	done.Holds, err = s.replace(ctx, &done.Spent, asked, before, near)
	if done.Holds != HoldsUnknown {
		intent, err = s.finished(ctx, intent, err)
	}
	if done.Holds == HoldsAsked {
		done.Verified = VerifiedYes
	}
	if err == nil {
		return done, nil
	}
	done.Differences = append(done.Differences, differences(err)...)
	return done, &UnwrittenError{
		Slot: asked.slot, Holds: done.Holds, Readable: true, Snapshot: done.Snapshot, Intent: s.open(intent), Err: err,
	}
}

// checkPush refuses what can be seen to be wrong before anything is sent.
func (s *Session) checkPush(number int, setting profiles.Setting, allowRunaway bool) error {
	if err := s.Device.Check(setting); err != nil {
		return err
	}
	if err := s.Device.CheckSlot(number); err != nil {
		return err
	}
	if err := s.CheckRunaway(number, setting, allowRunaway); err != nil {
		return err
	}
	return s.checkOpen()
}

// closeToRunaway is the gain of a turn from which on a warning is due: the
// tolerance of a worn potentiometer or a second box in the loop is of that order
// (common practice, no source).
const closeToRunaway preset.Decibels = -1

// CheckRunaway refuses a setting whose loop can reach unity, unless that is
// allowed, and warns of one that is close to it.
func (s *Session) CheckRunaway(slot int, setting profiles.Setting, allow bool) error {
	gain := s.Device.LoopGain(setting)
	switch {
	case gain >= 0 && !allow:
		return &RunawayError{Slot: slot, Gain: gain}
	case gain >= 0:
		s.warn("slot %d: the loop's gain can reach %+.1f dB a turn, and each repeat be louder than the one before: turn everything down before it sounds", slot, float64(gain))
	case gain > closeToRunaway:
		s.warn("slot %d: the loop's gain is %+.1f dB a turn, close to running away: turn your monitors down before it sounds", slot, float64(gain))
	}
	return nil
}

// Load makes a slot sound. What sounds until then is turned down first, loop
// gains before all, where the device has messages for that.
func (s *Session) Load(ctx context.Context, number int) (Spent, error) {
	var spent Spent
	mute, err := s.Device.MuteSteps(s.Unit)
	if err != nil {
		return spent, err
	}
	if len(mute) == 0 {
		s.warn("slot %d: what sounds cannot be turned down by message first: turn your monitors down", number)
	}
	step, err := s.Device.LoadStep(s.Unit, number)
	if err != nil {
		return spent, err
	}
	for _, m := range append(mute, step) {
		if _, err := s.run(ctx, &spent, m, nil); err != nil {
			return spent, err
		}
	}
	return spent, nil
}
