package cli

import (
	"fmt"

	"echowright/cmd/internal/ui"
	"echowright/preset"
	"echowright/preset/compare"
	"echowright/preset/compare/report"
)

func (c *call) showComparison(names report.Names, r compare.Result) {
	a := r.Alignment
	c.print("%s against %s", names.A, names.B)
	c.print("B comes %s ms later, at %s dB to A%s; all taken out",
		ui.Signed(float64(a.Offset), 3), ui.Signed(float64(a.Gain), 2), map[bool]string{true: ", turned over"}[a.Inverted])
	if a.Drift != nil {
		c.print("clock of B: the sound lasts %s ± %s ppm longer in it", ui.Signed(*a.Drift, 2), ui.Fixed(a.DriftSD, 2))
	}
	if r.AtFloor() {
		c.print("left of A without B: nothing but what rounding leaves, %s dB", ui.Fixed(float64(r.Residual), 1))
	} else {
		c.print("left of A without B: %s dB", ui.Fixed(float64(r.Residual), 1))
	}
	if d := r.Decay; d != nil {
		c.print("decay: A loses %s dB in a second, B %s", ui.Fixed(d.A, 1), ui.Fixed(d.B, 1))
	}
	c.showEchoDifferences(r)
	c.showToneDifferences(r.Tone)
	if r.Steps != nil {
		c.showStepDifferences(*r.Steps)
	}
}

func (c *call) showEchoDifferences(r compare.Result) {
	if len(r.Echoes) == 0 {
		return
	}
	c.print("")
	t := ui.Table{Titles: []string{">echo", ">ms", ">dB", ">later in B, ms", ">noticed from", ">louder in B, dB", ">noticed from", "judged"}}
	for i, e := range r.Echoes {
		at := []any{echoName(i, e), ui.Fixed(float64(e.At), 2), ui.Fixed(float64(e.Level), 1)}
		if e.Missing {
			t.Add(append(at, "-", ui.Fixed(float64(e.TimingJND()), 1), "-", ui.Fixed(float64(compare.LevelJND), 1), "missing")...)
			continue
		}
		judged := "not noticed"
		if e.Noticeable() {
			judged = "noticeable"
		}
		t.Add(append(at, withSD(float64(e.Delta), float64(e.DeltaSD), 3), ui.Fixed(float64(e.TimingJND()), 1),
			withSD(float64(e.DeltaDB), float64(e.DeltaDBSD), 2), ui.Fixed(float64(compare.LevelJND), 1), judged)...)
	}
	c.printTable(t)
}

func withSD(v, sd float64, decimals int) string {
	if sd == 0 {
		return ui.Signed(v, decimals)
	}
	return ui.Signed(v, decimals) + " ± " + ui.Fixed(sd, decimals)
}

// echoName is head and turn ("4" or "4+1"), or a number where no head is known.
func echoName(i int, e compare.Echo) string {
	switch {
	case e.Head == 0:
		return fmt.Sprint(i + 1)
	case e.Turn == 0:
		return fmt.Sprint(e.Head)
	}
	return fmt.Sprintf("%d+%d", e.Head, e.Turn)
}

// shownBands in Hz are those that stand in a table on a terminal: octaves. The
// report and the JSON have them all.
func shownBands() []float64 { return []float64{63, 125, 250, 500, 1000, 2000, 4000, 8000} }

func (c *call) showToneDifferences(bands []compare.Band) {
	t := ui.Table{Titles: []string{"tone"}}
	row := []any{"B louder by, dB"}
	for _, f := range shownBands() {
		for _, b := range bands {
			if ratio := float64(b.Centre) / f; ratio > 0.95 && ratio < 1.05 {
				t.Titles = append(t.Titles, fmt.Sprintf(">%.0f Hz", f))
				row = append(row, ui.Signed(float64(b.Delta), 1))
			}
		}
	}
	if len(row) > 1 {
		c.print("")
		t.Add(row...)
		c.printTable(t)
	}
}

func (c *call) showStepDifferences(s compare.Steps) {
	c.print("")
	t := ui.Table{Titles: []string{">in dBFS", ">gain A dB", ">B dB", ">harmonics A %", ">B %", ">upper to lower peak A dB", ">B dB"}}
	for _, p := range s.Steps {
		t.Add(ui.Fixed(float64(p.In), 1), ui.Signed(float64(p.GainA), 2), ui.Signed(float64(p.GainB), 2),
			ui.Fixed(float64(p.THDA), 2), ui.Fixed(float64(p.THDB), 2), ui.Signed(float64(p.PeaksA), 2), ui.Signed(float64(p.PeaksB), 2))
	}
	c.printTable(t)
}

// comparisonView is what scripts get.
type comparisonView struct {
	Offset   preset.Millis   `json:"offset_ms"`
	OffsetSD preset.Millis   `json:"offset_sd_ms"`
	Gain     preset.Decibels `json:"gain_db"`
	GainSD   preset.Decibels `json:"gain_sd_db"`
	Drift    *float64        `json:"drift_ppm"` // null where not known
	DriftSD  float64         `json:"drift_sd_ppm"`
	Inverted bool            `json:"inverted"`
	Residual preset.Decibels `json:"residual_db"`
	Floor    preset.Decibels `json:"residual_floor_db"`
	From     compare.Source  `json:"echo_from"`
	Echoes   []comparedEcho  `json:"echo"`
	Tone     []comparedBand  `json:"tone"`
	Decay    *comparedDecay  `json:"decay"`
	OneDB    *comparedOneDB  `json:"compression_dbfs,omitempty"`
	Steps    []comparedStep  `json:"step,omitempty"`
	Warnings []string        `json:"warnings"`
}

type comparedEcho struct {
	Head       int              `json:"head,omitempty"`
	Turn       int              `json:"turn,omitempty"`
	At         preset.Millis    `json:"ms"`
	Level      preset.Decibels  `json:"db"`
	Delta      *preset.Millis   `json:"delta_ms"` // null where it is missing in B
	DeltaSD    preset.Millis    `json:"delta_sd_ms"`
	DeltaDB    *preset.Decibels `json:"delta_db"`
	DeltaDBSD  preset.Decibels  `json:"delta_sd_db"`
	TimingJND  preset.Millis    `json:"noticed_from_ms"`
	LevelJND   preset.Decibels  `json:"noticed_from_db"`
	Noticeable bool             `json:"noticeable"`
}

type comparedBand struct {
	Centre  preset.Hertz    `json:"hz"`
	Level   preset.Decibels `json:"db"`
	Delta   preset.Decibels `json:"delta_db"`
	DeltaSD preset.Decibels `json:"delta_sd_db"`
}

type comparedDecay struct {
	A float64 `json:"a_db_per_s"`
	B float64 `json:"b_db_per_s"`
}

type comparedOneDB struct {
	A *preset.Decibels `json:"a"`
	B *preset.Decibels `json:"b"`
}

type comparedStep struct {
	In     preset.Decibels `json:"in_dbfs"`
	GainA  preset.Decibels `json:"a_gain_db"`
	GainB  preset.Decibels `json:"b_gain_db"`
	THDA   preset.Percent  `json:"a_thd_percent"`
	THDB   preset.Percent  `json:"b_thd_percent"`
	PeaksA preset.Decibels `json:"a_above_to_below_db"`
	PeaksB preset.Decibels `json:"b_above_to_below_db"`
}

func viewComparison(r compare.Result) comparisonView {
	a := r.Alignment
	v := comparisonView{
		Offset: a.Offset, OffsetSD: a.OffsetSD, Gain: a.Gain, GainSD: a.GainSD, Drift: a.Drift, DriftSD: a.DriftSD, Inverted: a.Inverted,
		Residual: r.Residual, Floor: r.Floor, From: r.From, Echoes: []comparedEcho{}, Tone: []comparedBand{}, Warnings: warningWords(r.Warnings),
	}
	for _, e := range r.Echoes {
		one := comparedEcho{
			Head: e.Head, Turn: e.Turn, At: e.At, Level: e.Level, DeltaSD: e.DeltaSD, DeltaDBSD: e.DeltaDBSD,
			TimingJND: e.TimingJND(), LevelJND: compare.LevelJND, Noticeable: e.Noticeable(),
		}
		if !e.Missing {
			one.Delta, one.DeltaDB = &e.Delta, &e.DeltaDB
		}
		v.Echoes = append(v.Echoes, one)
	}
	for _, b := range r.Tone {
		v.Tone = append(v.Tone, comparedBand(b))
	}
	if d := r.Decay; d != nil {
		v.Decay = &comparedDecay{d.A, d.B}
	}
	if s := r.Steps; s != nil {
		v.OneDB = &comparedOneDB{s.OneDBA, s.OneDBB}
		for _, p := range s.Steps {
			v.Steps = append(v.Steps, comparedStep{p.In, p.GainA, p.GainB, p.THDA, p.THDB, p.PeaksA, p.PeaksB})
		}
	}
	return v
}
