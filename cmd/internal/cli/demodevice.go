package cli

import (
	"context"
	"errors"
	"fmt"

	"echowright/cmd/internal/ui"
	"echowright/library/exchange"
	"echowright/midi/port"
	"echowright/preset"
	"echowright/preset/picture"
	"echowright/profiles/arrange"
	"echowright/profiles/emulator"
)

// powerOn has the device at the other end of a stream of bytes until powerOff.
func (d *demonstration) powerOn(ctx context.Context) (string, error) {
	s := &d.done
	var err error
	if s.device, err = newEmulator(d.scenario.device, emulator.Options{RealTime: true}); err != nil {
		return "", err
	}
	ctx, stop := context.WithCancel(ctx)
	near, far := port.Pipe(s.target.port)
	served := make(chan error, 1)
	go func() { served <- emulator.Serve(ctx, far, s.device) }()
	link := s.target.link(near, nil)
	s.off = func() error {
		stop()
		return errors.Join(<-served, link.Close(), far.Close())
	}
	if s.session, err = s.target.session(d.call, link, d.talk.Progress("backing up", d.Now)); err != nil {
		return "", err
	}
	return fmt.Sprintf("%s, emulated from its manual, at the other end of a stream of bytes", d.scenario.device), nil
}

func (d *demonstration) powerOff() error {
	if d.done.off == nil {
		return nil
	}
	return d.done.off()
}

func (d *demonstration) backUp(ctx context.Context) (string, error) {
	var err error
	s := &d.done
	if s.backup, err = s.session.Backup(ctx, s.session.AllSlots(), exchange.BackupOptions{}); err != nil {
		return "", err
	}
	shelf, err := d.library()
	if err != nil {
		return "", err
	}
	if err := shelf.CheckSnapshot(s.backup.Snapshot); err != nil {
		return "", err
	}
	return fmt.Sprintf("%s in %s s, each checked: snapshot %s", ui.Count(s.backup.Slots, "slot", "slots"),
		ui.Fixed(float64(s.backup.Seconds), 1), s.backup.Snapshot), nil
}

func (d *demonstration) push(ctx context.Context) (string, error) {
	var err error
	s := &d.done
	if s.pushed, err = s.session.Push(ctx, d.slot, s.planned.Setting, exchange.PushOptions{}); err != nil {
		return "", err
	}
	return fmt.Sprintf("slot %d: %s, %s, verified: %s; what it held is kept: %s", d.slot,
		ui.Count(s.pushed.Messages, "message", "messages"), ui.Count(s.pushed.Bytes, "byte", "bytes"), s.pushed.Verified, s.pushed.Snapshot), nil
}

func (d *demonstration) readBack(ctx context.Context) (string, error) {
	s := &d.done
	slot, _, err := s.session.ReadSlot(ctx, d.slot)
	if err != nil {
		return "", err
	}
	if slot.Fault != nil {
		return "", fmt.Errorf("slot %d: %w", d.slot, slot.Fault)
	}
	if off := s.planned.device.Differences(s.planned.Setting, slot.Setting); len(off) > 0 {
		return "", fmt.Errorf("slot %d holds another %s than was planned", d.slot, off[0].Parameter)
	}
	return fmt.Sprintf("slot %d is called %q, all %s as planned", d.slot, slot.Setting.Name,
		ui.Count(len(slot.Setting.Codes), "parameter", "parameters")), nil
}

// listen asks the emulated hardware, which knows no profile and no plan, for the
// echoes that its memory makes, and holds them against those wanted.
func (d *demonstration) listen(context.Context) (string, error) {
	s := &d.done
	sound, err := s.device.Sound(d.slot)
	if err != nil {
		return "", err
	}
	// A little deeper than wanted, so that one at the floor is not missed.
	got, err := sound.Echoes(preset.TrainFloor+s.planned.Shift-mostOffHeardDB, preset.TrainLimit)
	if err != nil {
		return "", err
	}
	for _, e := range s.planned.Echoes {
		s.heard = append(s.heard, nearestHeard(arrange.Echo{At: e.At, Level: e.Level}, got, s.planned.Shift))
	}
	missing, ms, db := worst(s.heard)
	if missing > 0 || ms > float64(mostOffHeard) || db > float64(mostOffHeardDB) {
		return "", fmt.Errorf("of %s wanted %d are not heard, the others within %s ms and %s dB: wanted are all within %v and %v",
			ui.Count(len(s.heard), "echo", "echoes"), missing, ui.Fixed(ms, 2), ui.Fixed(db, 2), mostOffHeard, mostOffHeardDB)
	}
	return fmt.Sprintf("all %d echoes that were wanted are heard, within %s ms and %s dB", len(s.heard), ui.Fixed(ms, 2), ui.Fixed(db, 2)), nil
}

// nearestHeard finds what was heard in place of an echo wanted: the nearest in
// time, if a listener could take it for the same. The device plays shift louder.
func nearestHeard(want arrange.Echo, all []preset.Echo, shift preset.Decibels) arrange.Echo {
	nearest := preset.TimingJND(want.At)
	for _, e := range all {
		if off := abs(e.At - want.At); off <= nearest {
			nearest = off
			at, level := e.At, e.Level-shift
			want.GotAt, want.GotLevel = &at, &level
		}
	}
	return want
}

func (d *demonstration) draw(context.Context) (string, error) {
	take := drawn(d.done.samples, d.done.rate, d.done.measured)
	page, err := picture.SVG(fmt.Sprintf("%s, and %s on %s", d.scenario.unit, d.title, d.scenario.device),
		picture.Waveform{Take: take}, picture.Levels{Take: take}, compared(d.done.heard))
	if err != nil {
		return "", err
	}
	return "take, echoes, wanted against got: " + pictureName, wholeFile(d.path(pictureName), page)
}

const pictureName = "picture.svg"

func compared(echoes []arrange.Echo) picture.Comparison {
	var c picture.Comparison
	for _, e := range echoes {
		pair := picture.Pair{Wanted: picture.Single{At: e.At, Level: e.Level}}
		if e.GotAt != nil && e.GotLevel != nil {
			pair.Got = &picture.Single{At: *e.GotAt, Level: *e.GotLevel}
		}
		c.Echoes = append(c.Echoes, pair)
	}
	return c
}
