// Package unitfile turns a unit profile into the text of a TOML file and back,
// strict both ways: what is not a unit profile is refused with the line and the
// next step, and a unit has exactly one text, which is read back the same.
package unitfile

import (
	"fmt"
	"time"

	"echowright/preset"
	"echowright/preset/stricttoml"
)

// Limit is the size in bytes of the largest unit file that is read.
const Limit = 1 << 20

var kind = stricttoml.Kind{Name: "unit", Version: 1, Limit: Limit}

// required lists what a file must say where the table around it stands. Parts
// that were not measured are left out as a whole.
var required = []string{
	"name", "kind", "head.*.head", "head.*.delay_ms", "head.*.level_db",
	"feedback.heads", "feedback.gain_db", "direct.echo_to_direct_db", "drive.gain_db",
}

// Parse reads the text of a unit file and validates the unit. File is the name
// that errors begin with. An error holds a [stricttoml.FormatError] for each
// mistake, or is a [stricttoml.UnsupportedError] if the file is newer than we are.
func Parse(file string, text []byte) (preset.Unit, error) {
	var u preset.Unit
	doc, err := kind.Decode(file, text, &u)
	if err != nil {
		return preset.Unit{}, err
	}
	if err := doc.Require(required...); err != nil {
		return preset.Unit{}, err
	}
	if doc.Has("origin.measured") {
		if err := checkDay(u.Origin.Measured, true); err != nil {
			return preset.Unit{}, doc.Locate(err)
		}
		u.Origin.Measured = midnight(u.Origin.Measured)
	}
	if err := u.Validate(); err != nil {
		return preset.Unit{}, doc.Locate(err)
	}
	return u, nil
}

// localDate is the name that the TOML library gives the zone of a value which is
// a date and nothing more.
const localDate = "date-local"

// checkDay refuses a time of day, which would be lost, and years in which nobody
// measured anything: they are slips, and the year 1 is Go's word for "unknown".
func checkDay(day time.Time, fromFile bool) error {
	if fromFile && day.Location().String() != localDate || day.Year() < 1900 || day.Year() > 9999 {
		return &preset.FieldError{
			Path: "origin.measured", Subject: "origin: measured",
			Problem: fmt.Sprintf("%s: write the day of the measurement alone, such as 2026-03-14", day.Format(time.RFC3339)),
		}
	}
	return nil
}

// midnight is the day in UTC: the same value in whatever zone it is read.
func midnight(day time.Time) time.Time {
	y, m, d := day.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}
