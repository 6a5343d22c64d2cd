package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/preset"
)

func newSongsCommand(c *call) *cobra.Command {
	group := &cobra.Command{
		Use:   "songs",
		Short: "Set lists: the echo of every song, planned, checked and written slot by slot",
		Example: "  echowright songs check saltmarsh-evening.toml\n" +
			"  echowright songs push saltmarsh-evening.toml --rig stage",
	}
	asGroup(c, group)
	group.AddCommand(newSongsCheckCommand(c), newSongsPlanCommand(c), newSongsPushCommand(c), newSongsExportCommand(c), newSongsListCommand(c))
	return group
}

// A setSong is a song of a sheet, with what its words stand for.
type setSong struct {
	library.Song
	unit  preset.Unit
	tempo preset.BPM // at its beginning
	tempi *songTempi // of a tempo map, nil where there is none
}

// songSheet finds a song sheet, a file or one of the library, and the folder from
// which the files that it names are looked for.
func (c *call) songSheet(name string) (s library.SongSheet, folder string, err error) {
	if isFile(name) {
		text, err := readText(name)
		if err != nil {
			return s, "", err
		}
		if s, err = library.ParseSongs(name, text); err != nil {
			return s, "", mending("song sheet", err)
		}
		return s, filepath.Dir(name), nil
	}
	shelf, err := c.library()
	if err != nil {
		return s, "", err
	}
	e, err := shelf.Songs.Get(name)
	return e.Value, filepath.Dir(e.Path), brokenInside(err)
}

// shelved adds to the error of a sheet of the library where its files were looked for.
func shelved(name string, err error) error {
	if isFile(name) || !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return fmt.Errorf("%w; a sheet of the library looks for files beside itself: name units of the library, and files by their whole paths", err)
}

// songs finds the units and the tempi of all songs of a sheet. The error holds one
// for each song that cannot have its own.
func (c *call) songs(s library.SongSheet, folder string) ([]setSong, error) {
	type found struct {
		unit preset.Unit
		err  error
	}
	units := map[string]found{}
	all := make([]setSong, len(s.Songs))
	var failed failures
	for i, song := range s.Songs {
		u, known := units[song.Unit]
		if !known {
			u.unit, u.err = c.songUnit(folder, song.Unit)
			units[song.Unit] = u
		}
		all[i] = setSong{Song: song, unit: u.unit, tempo: song.Tempo}
		err := u.err
		if song.TempoMap != "" {
			err = errors.Join(err, all[i].readTempi(seenFrom(folder, song.TempoMap)))
		}
		failed = failed.and(ofSong(song.Title, err))
	}
	return all, failed.err()
}

// songUnit finds the unit that a song names: a file, its path seen from the folder of
// the sheet, or one of the library, in any of its revisions.
func (c *call) songUnit(folder, named string) (preset.Unit, error) {
	if isFile(named) {
		return c.unit(seenFrom(folder, named))
	}
	shelf, err := c.library()
	if err != nil {
		return preset.Unit{}, err
	}
	u, err := shelf.SongUnit(named)
	return u, brokenInside(err)
}

// seenFrom is the path of a file that a sheet in a folder names.
func seenFrom(folder, path string) string {
	if filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(folder, path)
}

// ofSong says of an error which song it is about.
func ofSong(title string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("song %q: %w", title, err)
}

func newSongsListCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use: "list", Short: "List the song sheets of the library", Example: "  echowright songs list --json",
		Args: takes(),
		RunE: func(*cobra.Command, []string) error { return runSongsList(c) },
	}
}

// listedSheet is a line of songs list.
type listedSheet struct {
	Name     string `json:"name"`
	Songs    int    `json:"songs"`
	Revision int    `json:"revision"`
	Notes    string `json:"notes,omitempty"`
	Error    string `json:"error,omitempty"` // why it cannot be read
}

func runSongsList(c *call) error {
	shelf, err := c.library()
	if err != nil {
		return err
	}
	entries, err := shelf.Songs.List()
	if err != nil {
		return err
	}
	all := []listedSheet{}
	t := ui.Table{Titles: []string{"sheet", ">songs", ">revision", "notes"}}
	for _, e := range entries {
		s := listedSheet{Name: e.Name, Songs: len(e.Value.Songs), Revision: e.Revision, Notes: e.Value.Notes}
		if e.Err != nil {
			s.Error = e.Err.Error()
			t.Add(s.Name, "", "", "cannot be read: "+s.Error)
		} else {
			t.Add(s.Name, s.Songs, s.Revision, s.Notes)
		}
		all = append(all, s)
	}
	switch {
	case c.json:
		return ui.JSON(c.out, map[string]any{"sheet": all})
	case len(all) == 0:
		c.say("the library (%s) holds no song sheets: `echowright library add SHEET.toml` puts one there; a file does as well", shelf.Home())
		return nil
	}
	t.Print(c.out)
	return nil
}
