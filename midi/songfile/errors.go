package songfile

import "fmt"

// A FormatError says what is wrong with a file. Offset is the byte at which it
// was noticed, 0 for the file as a whole.
type FormatError struct {
	File    string
	Offset  int
	Problem string // what is wrong, and the next step where there is one
}

func (e *FormatError) Error() string { return located(e.File, e.Offset, e.Problem) }

// An UnsupportedError says that nothing is wrong with a file but that its form
// is none of those read here.
type UnsupportedError struct {
	File    string
	Offset  int
	Problem string
}

func (e *UnsupportedError) Error() string { return located(e.File, e.Offset, e.Problem) }

func located(file string, offset int, problem string) string {
	if offset > 0 {
		return fmt.Sprintf("%s: at byte %d: %s", file, offset, problem)
	}
	return file + ": " + problem
}
