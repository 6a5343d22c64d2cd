// Package fileport turns what is sent into a .syx file: the plain bytes, to be
// sent later by this or another program. The file appears when the port is
// closed, whole or not at all.
package fileport

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"echowright/midi/port"
)

// Scheme is what stands before the path in a port's name.
const Scheme = "file"

const extension = ".syx"

// A File is the port. It takes what is sent and answers nothing.
type File struct {
	name, path string

	mu     sync.Mutex
	sent   bytes.Buffer
	closed bool
	result error
}

// Open makes ready to write the file at path, which ends in .syx and is not
// there yet. Nothing is written before Close.
func Open(ctx context.Context, path string) (*File, error) {
	f := &File{name: Scheme + ":" + path, path: path}
	if err := ctx.Err(); err != nil {
		return nil, f.failed("opening", err, "")
	}
	if !strings.EqualFold(filepath.Ext(path), extension) {
		return nil, f.failed("opening", fmt.Errorf("the name %q does not end in %s: %w", filepath.Base(path), extension, port.ErrUnsupported),
			"name the file "+strings.TrimSuffix(path, filepath.Ext(path))+extension)
	}
	if err := f.free(); err != nil {
		return nil, err
	}
	if info, err := os.Stat(filepath.Dir(path)); err != nil || !info.IsDir() {
		return nil, f.failed("opening", fmt.Errorf("%w: there is no folder %s", port.ErrNotThere, filepath.Dir(path)), "make it first")
	}
	return f, nil
}

// free is an error if there is something at the path already.
func (f *File) free() error {
	_, err := os.Lstat(f.path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err == nil {
		err = fs.ErrExist
	}
	return f.failed("opening", err, "choose another name, or remove it first: nothing is overwritten")
}

func (f *File) failed(doing string, err error, next string) error {
	return &port.Error{Port: f.name, Doing: doing, Err: err, Next: next}
}

// Send keeps the bytes until Close.
func (f *File) Send(ctx context.Context, b []byte) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	err := ctx.Err()
	if f.closed {
		err = port.ErrClosed
	}
	if err != nil {
		return &port.Error{Port: f.name, Doing: "sending", Of: len(b), Err: err}
	}
	f.sent.Write(b)
	return nil
}

// Receive is always an error: a file answers nothing.
func (f *File) Receive(ctx context.Context) ([]byte, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	switch {
	case f.closed:
		return nil, f.failed("receiving", port.ErrClosed, "")
	case ctx.Err() != nil:
		return nil, f.failed("receiving", ctx.Err(), "")
	}
	return nil, f.failed("receiving", fmt.Errorf("a file answers nothing: %w", port.ErrUnsupported), "name the port that the device is on to hear what it says")
}

// Close writes the file, if anything was sent.
func (f *File) Close() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.closed {
		return f.result
	}
	f.closed = true
	if f.sent.Len() > 0 {
		f.result = f.write()
	}
	return f.result
}

// write puts the bytes beside the path first, so that a full disk or a crash
// leaves no half file there.
func (f *File) write() error {
	if err := f.free(); err != nil {
		return err
	}
	if err := replace(f.path, f.sent.Bytes()); err != nil {
		return f.failed("closing", err, "nothing was written; is the disk full, or the folder not yours?")
	}
	return nil
}

func replace(path string, content []byte) (err error) {
	tmp, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = os.Remove(tmp.Name())
		}
	}()
	_, err = tmp.Write(content)
	if err = errors.Join(err, tmp.Chmod(0o644), tmp.Sync(), tmp.Close()); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), path)
}
