package cli

import (
	"fmt"
	"io"
	"path/filepath"

	"echowright/cmd/internal/ui"
	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/arrange"
)

// report is what remains: wanted and got, a picture, files, and what to do next.
func (d *demonstration) report() {
	d.print("")
	d.print("What was measured (%s)", d.takeName)
	d.print("")
	d.printHeads(d.done.unit)
	if d.out.Terminal() {
		d.print("")
		take := drawn(d.done.samples, d.done.rate, d.done.measured)
		io.WriteString(d.out, ui.Drawing(take, min(d.out.Width-1, 100)))
	}
	d.print("")
	d.print("What was wanted, and what slot %d of the device makes of it", d.slot)
	d.print("")
	d.showEchoes(arrange.Result{Echoes: d.done.heard})
	d.print("")
	d.print("What the device was told")
	d.print("")
	d.showSetting(d.done.planned.device, d.done.planned.Setting)
	d.print("")
	for _, w := range d.done.measured.Warnings {
		d.print("To mind: %s", w)
	}
	for _, w := range d.done.planned.Warnings {
		d.print("To mind: %s", w)
	}
	d.print("")
	d.print("It all lies in %s:", d.folder)
	for _, f := range d.files() {
		d.print("  %-52s  %s", f.Path, f.What)
	}
	d.print("")
	fmt.Fprint(d.out, nextSteps)
}

type demoFile struct {
	Path string `json:"path"` // within the folder
	What string `json:"what"`
}

func (d *demonstration) files() []demoFile {
	return []demoFile{
		{d.takeName, "the recording"},
		{pictureName, "the picture, for any browser"},
		{"report.txt", "this report"},
		{filepath.Join("library", "units", d.scenario.unit+".toml"), "the unit profile"},
		{filepath.Join("library", "snapshots", d.done.backup.Snapshot), "all memories before"},
		{filepath.Join("library", "snapshots", d.done.pushed.Snapshot), "the slot before it was written"},
	}
}

const nextSteps = `The same with a recording and hardware of your own:

  echowright measure my-take.wav --heads 2,4,6 --kind drum --into my-drum --plot my-take.svg
  echowright retime my-drum --bpm 132 --note 1/8. --head 6 --into my-drum-132
  echowright plan my-drum-132 --device five-line
  echowright ports
  echowright rig add stage --device five-line --port raw:/dev/snd/midiC1D0
  echowright backup --rig stage
  echowright push my-drum-132 --rig stage --slot 5
`

// demoView is the demonstration for scripts.
type demoView struct {
	OK           bool            `json:"ok"`
	Folder       string          `json:"folder"`
	Steps        []string        `json:"step"` // that went well
	Unit         preset.Unit     `json:"unit"`
	SpeedRatio   float64         `json:"speed_ratio"`
	Setting      []profiles.Row  `json:"setting"`
	Echoes       []arrange.Echo  `json:"echo"` // wanted, and heard from the emulated hardware
	PatternError preset.Decibels `json:"pattern_error_db"`
	Verified     string          `json:"verified"`
	Files        []demoFile      `json:"file"`
}

func (d *demonstration) view(err error) demoView {
	s := &d.done
	v := demoView{
		OK: err == nil, Folder: d.folder, Steps: listOrEmpty(s.steps), Unit: s.unit, SpeedRatio: s.retimed.SpeedRatio,
		Setting: []profiles.Row{}, Echoes: listOrEmpty(s.heard), PatternError: s.planned.Error, Verified: s.pushed.Verified,
		Files: d.files(),
	}
	if s.planned.device != nil {
		v.Setting = s.planned.device.Rows(s.planned.Setting)
	}
	return v
}
