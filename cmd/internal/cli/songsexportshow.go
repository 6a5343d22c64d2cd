package cli

import (
	"echowright/cmd/internal/ui"
	"echowright/midi/songfile"
)

// exportView is what was written, as scripts get it.
type exportView struct {
	Sheet  string           `json:"sheet"`
	Device string           `json:"device"`
	Files  []string         `json:"file"`
	Songs  []exportSongView `json:"song"`
}

type exportSongView struct {
	Title    string  `json:"title"`
	File     string  `json:"file"`
	Slot     int     `json:"slot"`
	Live     bool    `json:"live"`      // every parameter is set; else the slot is called up
	Bar      int     `json:"bar"`       // at which it begins in its file, and the device is ready
	At       float64 `json:"at_ms"`     // when that bar begins
	LeadIn   int     `json:"lead_bars"` // that stand before it
	Messages int     `json:"messages"`
	Bytes    int     `json:"bytes"`
	Wire     float64 `json:"wire_ms"`
	Device   float64 `json:"device_ms"`
	Before   float64 `json:"before_ms"` // the first message begins so long before the bar
	Spare    float64 `json:"spare_ms"`  // the device is ready so long before the bar
}

func (s cuedSong) view(at songfile.SetSong, f exportFile) exportSongView {
	m := f.set.Map
	v := exportSongView{
		Title: s.Title, File: f.name, Slot: s.Slot, Live: s.live,
		Bar: m.PositionAt(at.Start).Bar, At: m.TimeAt(at.Start).Millis(), LeadIn: at.Bars,
		Messages: at.Messages, Bytes: at.Bytes, Wire: at.Wire.Millis(), Device: at.Device.Millis(), Spare: at.Spare.Millis(),
	}
	if len(at.Events) > 0 {
		v.Before = (m.TimeAt(at.Start) - m.TimeAt(at.Events[0].At)).Millis()
	}
	return v
}

func (c *call) showExport(set *plannedSet, songs []cuedSong, files []exportFile) error {
	v := exportView{Sheet: set.sheet.Name, Device: set.device.Name}
	for _, f := range files {
		v.Files = append(v.Files, f.name)
		for i, at := range f.set.Songs {
			v.Songs = append(v.Songs, songs[f.first+i].view(at, f))
		}
	}
	if c.json {
		return ui.JSON(c.out, v)
	}
	t := ui.Table{Titles: []string{"song", ">bar", ">at s", "messages", ">bytes", ">wire ms", ">device ms", ">sent ms before", ">ready ms before"}}
	for i, s := range v.Songs {
		t.Add(s.Title, s.Bar, ui.Fixed(s.At/1000, 3), songs[i].what, s.Bytes, ui.Fixed(s.Wire, 2), ui.Fixed(s.Device, 2), ui.Fixed(s.Before, 2), ui.Fixed(s.Spare, 2))
	}
	c.printTable(t)
	return nil
}
