package cli

import (
	"errors"
	"strings"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
)

func newSongsCheckCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use:   "check SHEET",
		Short: "Find what is wrong with a song sheet, without any device",
		Long: `Read a song sheet, find the units and tempo maps of its songs, and bring every unit
to its song. All that is wrong is told at once, song by song, and makes it exit 1;
what is only to be minded is a warning. What a device can do of the set is for
songs plan to say.`,
		Example:           "  echowright songs check saltmarsh-evening.toml",
		Args:              takes("SHEET"),
		ValidArgsFunction: c.completeSheet,
		RunE:              func(_ *cobra.Command, args []string) error { return runSongsCheck(c, args[0]) },
	}
}

// checkView is what is to be said of a sheet, as scripts get it.
type checkView struct {
	Sheet    string        `json:"sheet"`
	Songs    int           `json:"songs"`
	Faults   []string      `json:"fault"`
	Warnings []songWarning `json:"warning"`
}

type songWarning struct {
	Song string `json:"song"`
	Text string `json:"text"`
}

func runSongsCheck(c *call, name string) error {
	sheet, folder, err := c.songSheet(name)
	if err != nil {
		return err
	}
	v := checkView{Sheet: sheet.Name, Songs: len(sheet.Songs), Faults: []string{}, Warnings: []songWarning{}}
	songs, wrong := c.songs(sheet, folder)
	wrong = shelved(name, wrong)
	if wrong == nil {
		var brought []broughtSong
		brought, wrong = bringAll(songs)
		for _, b := range brought {
			for _, text := range b.remarks {
				v.Warnings = append(v.Warnings, songWarning{b.Title, text})
			}
		}
	}
	for _, w := range v.Warnings {
		c.warn(w.Song + ": " + w.Text)
	}
	if wrong != nil {
		v.Faults = strings.Split(wrong.Error(), "\n")
		wrong = songsWrong(sheet, wrong)
	}
	if c.json {
		return errors.Join(wrong, ui.JSON(c.out, v))
	}
	if wrong == nil {
		c.print("%s: %s, nothing wrong with it; `echowright songs plan` says what a device can do of it", sheet.Name, ui.Count(v.Songs, "song", "songs"))
	}
	return wrong
}
