package wavfile

import (
	"fmt"
	"io"
)

// A source is the file being read, and what was noticed on the way.
type source struct {
	file     string
	r        io.ReaderAt
	size     int64
	warnings []string
}

func (src *source) warn(format string, args ...any) {
	src.warnings = append(src.warnings, fmt.Sprintf(format, args...))
}

// bytes reads a few bytes that lie within the file.
func (src *source) bytes(at int64, n int) ([]byte, error) {
	b := make([]byte, n)
	return b, src.fill(at, b)
}

func (src *source) fill(at int64, b []byte) error {
	if n, err := src.r.ReadAt(b, at); n < len(b) {
		if err == io.EOF {
			return src.wrong(at, "ends here, having become shorter while it was read; wait until it is copied whole")
		}
		return fmt.Errorf("%s: reading at byte %d: %w", src.file, at, err)
	}
	return nil
}
