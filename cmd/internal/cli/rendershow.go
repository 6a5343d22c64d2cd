package cli

import (
	"fmt"
	"math"

	"echowright/cmd/internal/ui"
	"echowright/preset"
)

// rendered is what scripts get of a rendering.
type rendered struct {
	WAV      string           `json:"wav"`
	Unit     string           `json:"unit"`
	Device   string           `json:"device,omitempty"`
	Rate     preset.Hertz     `json:"rate_hz"`
	Channels int              `json:"channels"`
	Seconds  float64          `json:"seconds"`
	Tail     float64          `json:"tail_s"`
	Seed     uint64           `json:"seed"`
	DryPeak  preset.Decibels  `json:"dry_peak_dbfs"`
	Peak     preset.Decibels  `json:"peak_dbfs"`
	Gain     preset.Decibels  `json:"gain_db"`    // that the whole was given
	Lowered  preset.Decibels  `json:"lowered_db"` // so that it is no louder than the dry take
	LoopGain *preset.Decibels `json:"loop_gain_db"`
	Limited  int              `json:"limited_samples"`
	Clipped  int              `json:"clipped_samples"`
	Warnings []string         `json:"warnings"`
	form     string
	howls    bool
}

// fill notes what came of a rendering.
func (w *rendered) fill(r rendering, s sounding, l levels, gain float64, clipped int) {
	w.Seconds, w.Tail = float64(r.frames())/float64(r.dry.Rate), float64(r.tail)/float64(r.dry.Rate)
	w.DryPeak, w.Peak = rounded(preset.FromAmplitude(l.dry), 1e3), rounded(preset.FromAmplitude(l.wet*gain), 1e3)
	w.Gain = rounded(preset.FromAmplitude(gain), 1e3)
	w.Lowered = max(0, -w.Gain)
	w.Limited, w.Clipped, w.howls = l.limited, clipped, l.howls
	if g := s.graph.LoopGain(r.dry.Rate); !math.IsInf(float64(g), 0) {
		g = rounded(g, 1e3)
		w.LoopGain = &g
	}
	w.form = "24-bit PCM"
	if r.dry.Encoding.Float {
		w.form = "32-bit float"
	}
	w.Warnings = w.doubts()
}

// doubts are what is to be known before the file is played.
func (w *rendered) doubts() []string {
	var all []string
	if w.howls {
		all = append(all, fmt.Sprintf("a turn of the loop comes back at %+.1f dB at its strongest frequency, so it howls instead of dying away: "+
			"what is fed back is held at full scale (%s held). Caution: take headphones off and turn loudspeakers down before you play it",
			float64(*w.LoopGain), ui.Count(w.Limited, "sample", "samples")))
	}
	if w.Clipped > 0 {
		all = append(all, fmt.Sprintf("%s beyond full scale and clipped: give a lower --gain-db, or --start-level %s", ui.Count(w.Clipped, "sample was", "samples were"), startSafe))
	}
	if w.Peak > w.DryPeak+0.1 {
		all = append(all, fmt.Sprintf("the rendering's peak lies %.1f dB above the dry take's: turn down before you play it", float64(w.Peak-w.DryPeak)))
	}
	return all
}

// showRendered says in a few lines what was written.
func (c *call) showRendered(w rendered) {
	through := "unit " + w.Unit
	if w.Device != "" {
		through = fmt.Sprintf("device %s set for unit %s", w.Device, w.Unit)
	}
	c.print("%s: %s s through %s, %s s of them after the take's end; %v, %s, %s", w.WAV, ui.Fixed(w.Seconds, 2), through, ui.Fixed(w.Tail, 2),
		w.Rate, ui.Count(w.Channels, "channel", "channels"), w.form)
	switch {
	case w.Lowered > 0:
		c.print("lowered by %s dB: its peak is at %s dBFS, the dry take's at %s dBFS", ui.Fixed(float64(w.Lowered), 2), ui.Fixed(float64(w.Peak), 2), ui.Fixed(float64(w.DryPeak), 2))
	case w.Gain > 0:
		c.print("raised by %s dB: its peak is at %s dBFS, the dry take's at %s dBFS", ui.Fixed(float64(w.Gain), 2), ui.Fixed(float64(w.Peak), 2), ui.Fixed(float64(w.DryPeak), 2))
	default:
		c.print("as loud as the machine makes it: its peak is at %s dBFS, the dry take's at %s dBFS", ui.Fixed(float64(w.Peak), 2), ui.Fixed(float64(w.DryPeak), 2))
	}
}
