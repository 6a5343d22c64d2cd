package stricttoml

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
)

// A FormatError says what is wrong with a file. Line is counted from 1; 0 means
// the file as a whole.
type FormatError struct {
	File    string
	Line    int
	Problem string // subject, problem and next step
}

func (e *FormatError) Error() string { return located(e.File, e.Line, e.Problem) }

// An UnsupportedError says that nothing is wrong with a file but that this
// program cannot read it, being older than the file.
type UnsupportedError struct {
	File    string
	Line    int
	Problem string
}

func (e *UnsupportedError) Error() string { return located(e.File, e.Line, e.Problem) }

func located(file string, line int, problem string) string {
	if line > 0 {
		file += ":" + strconv.Itoa(line)
	}
	return file + ": " + problem
}

// mostTold is how many mistakes of one file are told: more help nobody.
const mostTold = 20

// A mistake is a FormatError of a file that is known elsewhere.
type mistake struct {
	line    int
	problem string
	barred  bool // the parser is not to see such a text
	lost    bool // not understood: the parser knows the words for it
}

func (m *mistake) at(file string) error { return &FormatError{file, m.line, m.problem} }

// refuse joins the mistakes in the order of the file; none is no error.
func (d *Document) refuse(found []mistake) error {
	slices.SortStableFunc(found, func(a, b mistake) int { return a.line - b.line })
	var all []error
	for i := range found {
		if i == mostTold {
			all = append(all, fmt.Errorf("%s: and %d more", d.File, len(found)-i))
			break
		}
		all = append(all, found[i].at(d.File))
	}
	return errors.Join(all...)
}
