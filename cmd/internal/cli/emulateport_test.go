package cli

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/port/ptyport"
)

// plugged is a new line whose far end is reached under the name link.
func plugged(t *testing.T, link string) *ptyport.Terminal {
	t.Helper()
	line, err := ptyport.Open()
	if err != nil {
		t.Skipf("SKIP: no pseudo-terminals here: %v", err)
	}
	t.Cleanup(func() { line.Close() })
	_ = os.Remove(link)
	require.NoError(t, os.Symlink(line.Path(), link))
	return line
}

// answers asks who is there, until somebody is or ten seconds are over: who opens
// the line last throws away what came before.
func answers(t *testing.T, line port.Port) bool {
	t.Helper()
	heard := make(chan struct{})
	go func() {
		defer close(heard)
		var framer midi.Framer
		found := false
		for !found {
			piece, err := line.Receive(t.Context())
			if err != nil {
				return
			}
			framer.Feed(piece, func(f midi.Frame) { found = found || len(f.Bytes) == 15 && f.Bytes[4] == 0x02 })
		}
	}()
	for range 100 {
		require.NoError(t, line.Send(t.Context(), []byte{0xF0, 0x7E, 0x7F, 0x06, 0x01, 0xF7}))
		select {
		case <-heard:
			return true
		case <-time.After(100 * time.Millisecond):
		}
	}
	return false
}

// The cable is pulled and plugged in again: the device is still itself.
func TestEmulatorAtTheEndOfALineThatIsThere(t *testing.T) {
	link := filepath.Join(t.TempDir(), "line")
	first := plugged(t, link)
	require.NoError(t, first.Stay())
	require.Equal(t, link, emulated(t, "--port", "raw:"+link, "--usb"))
	require.True(t, answers(t, first))
	require.NoError(t, first.Close())

	second := plugged(t, link)
	require.NoError(t, second.Stay())
	require.True(t, answers(t, second))
}

func TestEmulatorOnALineThatIsNotThere(t *testing.T) {
	got := world(t).run(t, "emulate", "five-line", "--port", "raw:"+filepath.Join(t.TempDir(), "none"))
	require.Equal(t, exitFailed, got.code)
	require.Contains(t, got.talk, "is it plugged in and switched on?")
}
