package exchange

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"echowright/library"
	"echowright/midi"
	"echowright/midi/transfer"
	"echowright/profiles"
)

// Runner runs steps on a device: a *[transfer.Link].
type Runner interface {
	Run(ctx context.Context, steps []midi.Step) (transfer.Result, error)
}

// A Session is a device on a port, and the library that keeps what was in it.
type Session struct {
	Device  *profiles.Device
	Unit    int    // the number that is set on the device
	Channel int    // 1 to 16 where it has one that does not go with its unit number, else 0
	Rig     string // its name, "" where none was used
	Port    string // its name, kept in snapshots
	Link    Runner
	Shelf   *library.Library
	Aside   *library.Library // where a replay of a trace keeps what it would keep in Shelf; nil for a device
	Now     func() time.Time

	Progress func(done, of int) // slots done, may be nil
	Warn     func(text string)  // may be nil
}

// Spent is what a conversation took.
type Spent struct {
	Messages int     `json:"messages"`
	Bytes    int     `json:"bytes"`
	Seconds  Seconds `json:"seconds"`
}

// Seconds is a time in seconds. A script gets it in whole milliseconds: what is
// finer says nothing about a conversation.
type Seconds float64

// MarshalJSON writes it as a number, "0.128".
func (s Seconds) MarshalJSON() ([]byte, error) {
	const perSecond = 1000
	return strconv.AppendFloat(nil, math.Round(float64(s)*perSecond)/perSecond, 'f', -1, 64), nil
}

func (s *Spent) add(r transfer.Result) {
	s.Messages += r.Messages
	s.Bytes += r.Bytes
	s.Seconds += Seconds(r.Elapsed.Seconds())
}

// run is one step and its answer.
func (s *Session) run(ctx context.Context, spent *Spent, step midi.Step, err error) ([]byte, error) {
	if err != nil {
		return nil, err
	}
	r, err := s.Link.Run(ctx, []midi.Step{step})
	spent.add(r)
	if err != nil {
		return nil, err
	}
	return r.Replies[0].Message, nil
}

// identify makes sure that the device is the one that the profile describes. A
// profile without an identity is taken at its word.
func (s *Session) identify(ctx context.Context, spent *Spent) (identity []byte, err error) {
	if err := s.Device.CheckUnit(s.Unit); err != nil {
		return nil, err
	}
	if s.Device.Identity == nil {
		return nil, nil
	}
	step, err := s.Device.IdentityStep(s.Unit)
	reply, err := s.run(ctx, spent, step, err)
	if err != nil {
		return nil, err
	}
	if err := s.Device.CheckIdentity(reply); err != nil {
		return nil, fmt.Errorf("port %s: %w; nothing was written: choose the profile of the device that is there, or the port of the one that is meant", s.Port, err)
	}
	return slices.Clone(reply), nil
}

// keep files slots as a snapshot and returns its name.
func (s *Session) keep(ctx context.Context, slots []Slot, identity []byte, note string) (string, error) {
	snapshot := s.snapshot(kept(slots), identity, note)
	name, err := s.keeper().WriteSnapshot(ctx, snapshot)
	if err != nil {
		return "", fmt.Errorf("keeping what the device holds: %w; nothing was written to the device", err)
	}
	return name, nil
}

// Target is the words of a command line that name this device.
func (s *Session) Target() string {
	if s.Rig != "" {
		return "--rig " + s.Rig
	}
	port := s.Port
	if strings.ContainsAny(port, " ;&|()<>*?$\"'`\\") { // else a shell would take it apart
		port = "'" + strings.ReplaceAll(port, "'", `'\''`) + "'"
	}
	words := fmt.Sprintf("--device %s --port %s", s.Device.Name, port)
	if s.Unit != s.Device.Manners.FirstUnit {
		words += fmt.Sprintf(" --unit %d", s.Unit)
	}
	if s.Channel != 0 {
		words += fmt.Sprintf(" --channel %d", s.Channel)
	}
	return words
}

// keeper is the library that snapshots and intents go to.
func (s *Session) keeper() *library.Library {
	if s.Aside != nil {
		return s.Aside
	}
	return s.Shelf
}

// snapshot is one of the device as it is now.
func (s *Session) snapshot(slots []library.SnapshotSlot, identity []byte, note string) library.Snapshot {
	return library.Snapshot{
		Device: s.Device.Name, Profile: s.Device.Source(), ProfileSHA256: s.Device.SHA256(),
		Port: s.Port, UnitNumber: s.Unit, Channel: s.Channel, Identity: identity, Taken: s.Now(), Note: note,
		Complete: true, Slots: slots,
	}
}

func kept(slots []Slot) []library.SnapshotSlot {
	var all []library.SnapshotSlot
	for _, slot := range slots {
		all = append(all, library.SnapshotSlot{Slot: slot.Number, Messages: slot.Message})
	}
	return all
}

func (s *Session) warn(format string, args ...any) {
	if s.Warn != nil {
		s.Warn(fmt.Sprintf(format, args...))
	}
}

func (s *Session) progress(done, of int) {
	if s.Progress != nil {
		s.Progress(done, of)
	}
}
