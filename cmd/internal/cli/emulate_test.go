package cli

import (
	"bytes"
	"context"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// heardSoFar is a stream that may be looked at while somebody writes to it.
type heardSoFar struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (h *heardSoFar) Write(b []byte) (int, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.text.Write(b)
}

func (h *heardSoFar) String() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.text.String()
}

// emulated runs emulate until the test ends and gives what it printed.
func emulated(t *testing.T, args ...string) (path string) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	e := world(t, append([]string{"emulate", "five-line"}, args...)...)
	var out, talk heardSoFar
	e.Stdout, e.Stderr = &out, &talk
	ended := make(chan int, 1)
	go func() { ended <- Run(ctx, e) }()
	t.Cleanup(func() {
		stop()
		require.Equal(t, exitDone, <-ended, "Ctrl-C is how it ends")
	})
	require.Eventually(t, func() bool { return strings.HasSuffix(out.String(), "\n") || len(ended) > 0 },
		10*time.Second, 5*time.Millisecond, "it says where it is: %s", talk.String())
	return strings.TrimSpace(out.String())
}

// asks reads slot 1 of the device on a port, as any other process would.
func asks(t *testing.T, port string, more ...string) said {
	t.Helper()
	return world(t).run(t, append([]string{"read", "--device", "five-line", "--port", port, "--slot", "1"}, more...)...)
}

func TestEmulatorOnASocket(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s")
	require.Equal(t, path, emulated(t, "--port", "unix:"+path))
	for range 2 { // one caller after another
		require.Equal(t, exitDone, asks(t, "unix:"+path).code)
	}
	second := world(t).run(t, "emulate", "five-line", "--port", "unix:"+path)
	require.Equal(t, exitFailed, second.code)
	require.Contains(t, second.talk, "choose another one, or end what has it")
	require.Equal(t, exitDone, asks(t, "unix:"+path).code, "the first is still there")
}

func TestEmulatorOnTheNetwork(t *testing.T) {
	address := emulated(t, "--port", "tcp:127.0.0.1:0")
	_, port, err := net.SplitHostPort(address)
	require.NoError(t, err)
	require.NotEqual(t, "0", port, "the port that it got")
	require.Equal(t, exitDone, asks(t, "tcp:"+address).code)
}

func TestEmulatorOnATerminal(t *testing.T) {
	if _, err := os.Stat("/dev/ptmx"); err != nil {
		t.Skipf("SKIP: no pseudo-terminals here: %v", err)
	}
	link := filepath.Join(t.TempDir(), "delay")
	t.Run("with a link", func(t *testing.T) {
		require.Equal(t, link, emulated(t, "--port", "pty:"+link, "--unit", "5"))
		require.Equal(t, exitDone, asks(t, "raw:"+link, "--unit", "5").code)
		taken := world(t).run(t, "emulate", "five-line", "--port", "pty:"+link)
		require.Equal(t, exitFailed, taken.code)
		require.Contains(t, taken.talk, "file exists; choose another name, or remove what stands there")
	})
	_, err := os.Lstat(link)
	require.ErrorIs(t, err, os.ErrNotExist, "the link goes with it")
	t.Run("without", func(t *testing.T) {
		require.Equal(t, exitDone, asks(t, "raw:"+emulated(t)).code)
	})
}

func TestALinkThatIsSomebodyElsesStays(t *testing.T) {
	link := filepath.Join(t.TempDir(), "delay")
	require.NoError(t, os.Symlink("/dev/elsewhere", link))
	removeLink(link, "/dev/pts/1")
	_, err := os.Lstat(link)
	require.NoError(t, err)
	removeLink(link, "/dev/elsewhere")
	_, err = os.Lstat(link)
	require.ErrorIs(t, err, os.ErrNotExist)
}

func TestALinkToATerminalThatIsGoneIsReplaced(t *testing.T) {
	folder := t.TempDir()
	there := write(t, "there", "")
	for to, stays := range map[string]bool{
		"/dev/pts/999999999": false, // what a killed emulator leaves behind
		"/dev/elsewhere":     true,
		there:                true,
	} {
		link := filepath.Join(folder, filepath.Base(to))
		require.NoError(t, os.Symlink(to, link))
		removeStale(link)
		_, err := os.Lstat(link)
		require.Equal(t, stays, err == nil, to)
	}
	removeStale(there)
	require.FileExists(t, there, "no link at all")
}

func TestWriteProtectionAsAFlag(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s")
	emulated(t, "--port", "unix:"+path, "--protected")
	got := world(t).run(t, "push", write(t, "fen.toml", someUnit), "--device", "five-line", "--port", "unix:"+path, "--slot", "1")
	require.Equal(t, exitFailed, got.code)
	require.Contains(t, got.talk, "the memory is write-protected")
}

func TestPlacesWhereNothingCanBeEmulated(t *testing.T) {
	for _, port := range []string{"", "serial", "unix", "unix:", "raw:", "emulator:five-line"} {
		got := world(t).run(t, "emulate", "five-line", "--port", port)
		require.Equal(t, exitMisused, got.code, port)
		require.Contains(t, got.talk, "write pty, pty:LINK, unix:PATH, tcp:HOST:PORT or raw:PATH")
	}
}
