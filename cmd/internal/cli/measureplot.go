package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/picture"
)

type drawPage func(title string, panels ...picture.Panel) ([]byte, error)

// pageFormat is how a picture is drawn for a file of that name.
func pageFormat(path string) (drawPage, error) {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".svg":
		return picture.SVG, nil
	case ".png":
		return picture.PNG, nil
	}
	return nil, fmt.Errorf("a picture is drawn as .svg (sharp at any size, for browsers) or .png (for everything else): end the name in one of them")
}

// settlePlot refuses a picture that could not be written before any work is done.
func (o *measureOptions) settlePlot(cmd *cobra.Command) error {
	if !cmd.Flags().Changed("plot") {
		return nil
	}
	if _, err := pageFormat(o.plot); err != nil {
		return misuse(cmd, "--plot %q: %w", o.plot, err)
	}
	folder := filepath.Dir(o.plot)
	switch info, err := os.Stat(folder); {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("--plot %s: there is no folder %s; make it first", o.plot, folder)
	case err != nil:
		return fmt.Errorf("--plot %s: %w", o.plot, err)
	case !info.IsDir():
		return fmt.Errorf("--plot %s: %s is no folder", o.plot, folder)
	}
	return nil
}

// drawInto draws a page into the file that --plot names, if it does.
func (o *measureOptions) drawInto(c *call, title string, panels ...picture.Panel) error {
	if o.plot == "" {
		return nil
	}
	draw, err := pageFormat(o.plot)
	if err != nil {
		return err
	}
	page, err := draw(title, panels...)
	if err != nil {
		return fmt.Errorf("picture %s: %w", o.plot, err)
	}
	return c.writeOut(o.plot, page)
}

// notePanels are what notes show, from what was heard to what is behind it.
func notePanels(u preset.Unit, take measure.Take, m measure.Result) []picture.Panel {
	first := drawn(take.Samples, take.Rate, m)
	all := first
	all.Samples = take.Samples
	panels := []picture.Panel{
		picture.Waveform{Take: first, Notes: len(m.Onsets)},
		picture.Levels{Take: first},
	}
	if len(m.Left) > 0 {
		left := picture.Remainder{Take: all, Notes: m.Onsets, Note: m.Note, Left: m.Left, Step: m.LeftStep, Noise: m.Noise}
		if take.Dry != nil {
			left.Note = 0 // the direct sound is in a channel of its own
		}
		panels = append(panels, left)
	}
	panels = append(panels, picture.Tones{Heads: cutsOf(u)})
	if len(m.Speed) > 0 {
		panels = append(panels, picture.Motion{Take: all, Notes: m.Onsets, Speed: m.Speed, Step: m.SpeedStep, Figures: u.Motion})
	}
	return panels
}

func cutsOf(u preset.Unit) []picture.Response {
	var all []picture.Response
	for _, h := range u.Heads {
		if !h.Inferred {
			all = append(all, picture.Response{Head: h.Head, Tone: h.Tone()})
		}
	}
	return all
}

// drawn is the part of the take that a picture shows: the first note and what
// follows it.
func drawn(samples []float64, rate preset.Hertz, m measure.Result) picture.Take {
	t := picture.Take{Rate: rate, Samples: samples}
	if len(m.Onsets) > 0 {
		t.Onset = m.Onsets[0]
	}
	if len(m.Onsets) > 1 {
		end := int(m.Onsets[1].Samples(rate))
		t.Samples = samples[:min(len(samples), max(0, end))]
	}
	for _, e := range m.Echoes {
		t.Marks = append(t.Marks, picture.Mark{At: e.At, SD: e.SD, Level: e.Level, LevelSD: e.LevelSD, Head: e.Head, Turn: e.Turn})
	}
	return t
}
