package signals

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"

	"echowright/preset/stricttoml"
)

// Limit is the size in bytes of the largest signal file that is read.
const Limit = 64 << 10

var fileKind = stricttoml.Kind{Name: "signal", Version: 1, Limit: Limit}

// A row is a figure of a signal file, in the order in which it is written.
type row struct {
	key   string
	value float64
}

// tables are the tables of the file of s, the one without a name first. It is
// the one list of what a file holds: all of it is written, and wanted on reading.
func (s Signal) tables() []struct {
	name string
	rows []row
} {
	type table = struct {
		name string
		rows []row
	}
	all := []table{{"", []row{
		{"rate_hz", float64(s.Rate)}, {"level_dbfs", float64(s.Level)},
		{"lead_ms", float64(s.Lead)}, {"tail_ms", float64(s.Tail)}}}}
	if w := s.Sweep; w != nil {
		all = append(all, table{"sweep", []row{
			{"from_hz", float64(w.From)}, {"to_hz", float64(w.To)}, {"seconds", w.Seconds},
			{"fade_in_ms", float64(w.FadeIn)}, {"fade_out_ms", float64(w.FadeOut)}}})
	}
	if w := s.Clicks; w != nil {
		all = append(all, table{"clicks", []row{
			{"count", float64(w.Count)}, {"spacing_ms", float64(w.Spacing)}, {"high_cut_hz", float64(w.HighCut)}}})
	}
	if w := s.Tone; w != nil {
		all = append(all, table{"tone", []row{
			{"frequency_hz", float64(w.Frequency)}, {"seconds", w.Seconds}, {"fade_ms", float64(w.Fade)}}})
	}
	if w := s.Steps; w != nil {
		all = append(all, table{"steps", []row{
			{"frequency_hz", float64(w.Frequency)}, {"count", float64(w.Count)}, {"step_db", float64(w.Step)},
			{"burst_ms", float64(w.Burst)}, {"gap_ms", float64(w.Gap)}, {"fade_ms", float64(w.Fade)}}})
	}
	return all
}

// Parse reads the text of a signal file. File is the name that errors begin
// with. An error holds a [stricttoml.FormatError] for each mistake, or is a
// [stricttoml.UnsupportedError] if the file is newer than we are.
func Parse(file string, text []byte) (Signal, error) {
	var s Signal
	doc, err := fileKind.Decode(file, text, &s)
	if err != nil {
		return Signal{}, err
	}
	var wanted []string
	for _, t := range s.tables() {
		for _, r := range t.rows {
			wanted = append(wanted, strings.TrimPrefix(t.name+"."+r.key, "."))
		}
	}
	if err := doc.Require(wanted...); err != nil {
		return Signal{}, err
	}
	if err := s.Validate(); err != nil {
		return Signal{}, doc.Locate(err)
	}
	return s, nil
}

// Format writes a signal as the text of its file, in the one way that there is.
// A signal that is not valid is refused.
func Format(s Signal) ([]byte, error) {
	if err := s.Validate(); err != nil {
		return nil, fmt.Errorf("the signal cannot be written: %w", err)
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "format = %q\n", fileKind.Format())
	for _, t := range s.tables() {
		if t.name != "" {
			fmt.Fprintf(&b, "[%s]\n", t.name)
		}
		for _, r := range t.rows {
			fmt.Fprintf(&b, "%s = %s\n", r.key, shortest(r.value))
		}
	}
	return b.Bytes(), nil
}

// shortest has no more digits than tell v from its neighbours.
func shortest(v float64) string {
	if v != 0 && math.Abs(v) < 1e-6 {
		return strconv.FormatFloat(v, 'e', -1, 64)
	}
	return strconv.FormatFloat(v+0, 'f', -1, 64) // + 0 makes −0 a plain 0
}
