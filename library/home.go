package library

import (
	"errors"
	"path/filepath"
)

// Home says where the library lies: in the folder that was asked for (--home),
// else in $ECHOWRIGHT_HOME, else in the user's data folder as the system has it.
// System is a GOOS; getenv is [os.Getenv].
func Home(asked, system string, getenv func(string) string) (string, error) {
	if asked != "" {
		return asked, nil
	}
	if home := getenv("ECHOWRIGHT_HOME"); home != "" {
		return home, nil
	}
	for _, place := range dataFolders(system) {
		folder := getenv(place.variable)
		// The XDG Base Directory Specification has relative paths ignored.
		if folder == "" || place.variable == "XDG_DATA_HOME" && !filepath.IsAbs(folder) {
			continue
		}
		return filepath.Join(folder, place.below, "echowright"), nil
	}
	return "", errors.New("where the library lies cannot be told: this account has no home folder; name a folder with --home or in $ECHOWRIGHT_HOME")
}

type place struct{ variable, below string }

// dataFolders are the places for a user's data, the first that is set counting.
func dataFolders(system string) []place {
	switch system {
	case "windows":
		return []place{{"AppData", ""}, {"USERPROFILE", filepath.Join("AppData", "Roaming")}}
	case "darwin":
		return []place{{"HOME", filepath.Join("Library", "Application Support")}}
	}
	return []place{{"XDG_DATA_HOME", ""}, {"HOME", filepath.Join(".local", "share")}}
}
