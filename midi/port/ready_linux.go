package port

import (
	"syscall"
	"unsafe"
)

// A ready takes what already waits on a line, without a word to the runtime. A read
// through package syscall tells the runtime that it might be kept waiting, and the
// first one after a rest wakes the thread that watches over such calls: two changes
// of threads more for each byte of a MIDI clock, which was near half of all that
// following a clock costs (BenchmarkFollowing in cmd/echowright: 1.3 % of a core
// with it, 0.8 % without). A line in non-blocking mode keeps nobody waiting, so the
// kernel is asked directly; the waiting is done by the runtime's poller as before.
type ready struct {
	line syscall.RawConn
	into []byte
	took func(fd uintptr) bool // made once, as a closure made anew is memory anew
	n    int
}

// newReady is nil for a line that has no descriptor.
func newReady(line Line, into []byte) *ready {
	conn, ok := line.(syscall.Conn)
	if !ok {
		return nil
	}
	raw, err := conn.SyscallConn()
	if err != nil {
		return nil
	}
	r := &ready{line: raw, into: into}
	r.took = r.take
	return r
}

// read waits for some bytes and gives how many came; 0 for whatever else happened,
// which a read in the usual way will meet again and can explain.
func (r *ready) read() int {
	if r == nil {
		return 0
	}
	r.n = 0
	if err := r.line.Read(r.took); err != nil {
		return 0
	}
	return r.n
}

// take reports whether the waiting is over.
func (r *ready) take(fd uintptr) bool {
	n, _, errno := syscall.RawSyscall(syscall.SYS_READ, fd, uintptr(unsafe.Pointer(unsafe.SliceData(r.into))), uintptr(len(r.into)))
	if errno == 0 {
		r.n = int(n)
	}
	return errno != syscall.EAGAIN
}
