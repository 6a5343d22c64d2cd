package cli

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"path/filepath"
	"regexp"
	"slices"

	"echowright/cmd/internal/ui"
	"echowright/library/exchange"
	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/unitfile"
	"echowright/preset/wavfile"
	"echowright/profiles"
	"echowright/profiles/arrange"
	"echowright/profiles/emulator"
)

// colours are what ui puts round words on a terminal.
var colours = regexp.MustCompile("\x1b\\[[0-9;]*m")

// demoState is what the steps leave to each other.
type demoState struct {
	steps    []string
	samples  []float64
	rate     preset.Hertz
	measured measure.Result
	unit     preset.Unit
	retimed  preset.Retimed
	planned  planned
	device   *emulator.Unit
	target   target
	session  *exchange.Session
	off      func() error // switches the device off; nil before it is on
	pushed   exchange.Pushed
	backup   exchange.BackedUp
	heard    []arrange.Echo // wanted beside heard
}

func (d *demonstration) path(name string) string { return filepath.Join(d.folder, name) }

func (d *demonstration) measure(ctx context.Context) (string, error) {
	s := &d.done
	if err := wholeFile(d.path(d.takeName), d.take); err != nil {
		return "", err
	}
	take, err := wavfile.Read(d.takeName, bytes.NewReader(d.take), int64(len(d.take)))
	if err != nil {
		return "", err
	}
	var numbers []int
	for _, h := range d.heads {
		numbers = append(numbers, h.Head)
	}
	s.samples, s.rate = take.Channels[0], take.Rate
	if s.measured, err = d.measureTake(ctx, d.takeName, measure.Take{Rate: s.rate, Samples: s.samples}, numbers); err != nil {
		return "", err
	}
	o := measureOptions{name: d.scenario.unit, kind: string(d.kind)}
	s.unit = o.named(tidied(s.measured.Unit), d.takeName, hash(d.take), d.Now())
	ms, db, err := d.offTruth()
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("%s; off what the machine has by %s ms and %s dB at the most",
		oneLine(s.unit), ui.Fixed(float64(ms), 2), ui.Fixed(float64(db), 2)), nil
}

// offTruth is how far what was measured lies from what the machine has.
func (d *demonstration) offTruth() (ms preset.Millis, db preset.Decibels, err error) {
	for _, want := range d.heads {
		got, ok := d.done.unit.Head(want.Head)
		if !ok {
			return 0, 0, fmt.Errorf("head %d was not found", want.Head)
		}
		ms, db = max(ms, abs(got.Delay-want.Delay)), max(db, abs(got.Level-want.Level))
	}
	if ms > mostOffMeasured || db > mostOffMeasuredDB {
		return ms, db, fmt.Errorf("the machine's heads are off by up to %s ms and %s dB: measured %v", ui.Fixed(float64(ms), 2), ui.Fixed(float64(db), 2), oneLine(d.done.unit))
	}
	return ms, db, d.offLoop()
}

func (d *demonstration) offLoop() error {
	want, got := d.loop, d.done.unit.Feedback
	switch {
	case want == nil && got == nil:
		return nil
	case want == nil || got == nil || !slices.Equal(want.Heads, got.Heads):
		return fmt.Errorf("the machine's loop was not found as it is: measured %s", oneLine(d.done.unit))
	case abs(got.Gain-want.Gain) > mostOffLoop:
		return fmt.Errorf("the machine's loop has %v a turn: measured %s", want.Gain, oneLine(d.done.unit))
	}
	return nil
}

func abs[T ~float64](v T) T { return T(math.Abs(float64(v))) }

func (d *demonstration) fileIt(ctx context.Context) (string, error) {
	text, err := unitfile.Format(d.done.unit)
	if err != nil {
		return "", err
	}
	shelf, err := d.library()
	if err != nil {
		return "", err
	}
	e, err := shelf.Units.Add(ctx, d.done.unit.Name, text, false)
	if err != nil {
		return "", err
	}
	return relative(e.Path), nil
}

func (d *demonstration) retime(context.Context) (string, error) {
	// From the library, as it was filed: what was written is what goes on.
	u, err := d.call.unit(d.scenario.unit)
	if err != nil {
		return "", err
	}
	if d.done.retimed, err = preset.Retime(u, d.tempo, d.note, d.anchor); err != nil {
		return "", err
	}
	return fmt.Sprintf("for %q at %v: head %d on %s, %s %% of the speed", d.title, d.tempo, d.anchor, d.note,
		ui.Fixed(100*d.done.retimed.SpeedRatio, 1)), nil
}

func (d *demonstration) plan(context.Context) (string, error) {
	device, err := profiles.Shipped(d.scenario.device)
	if err != nil {
		return "", err
	}
	u := d.done.retimed.Unit
	pattern, err := u.Pattern()
	if err != nil {
		return "", err
	}
	r, err := arrange.Arrange(pattern, device)
	if err != nil {
		return "", err
	}
	r.Setting.Name = device.FitName(d.title)
	d.done.planned = planned{unit: u, device: device, Result: r}
	d.done.target = target{
		address: address{device: device, unit: device.Manners.FirstUnit}, port: emulatorScheme + ":" + d.scenario.device,
	}
	return verdict(d.done.planned), nil
}
