package main

import (
	"bufio"
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/creack/pty"
	"github.com/stretchr/testify/require"
)

// TestCtrlCAtThePrompt presses Ctrl-C at a real terminal while the program asks
// whether to write: it ends at once, and nothing was sent.
func TestCtrlCAtThePrompt(t *testing.T) {
	dir := t.TempDir()
	memory, port := filepath.Join(dir, "memory"), "unix:"+filepath.Join(dir, "dev")
	program := func(words ...string) *exec.Cmd {
		cmd := exec.Command("echowright", words...)
		cmd.Env = append(os.Environ(), "ECHOWRIGHT_HOME="+filepath.Join(dir, "library"))
		return cmd
	}
	device := program("emulate", "five-line", "--port", port, "--keep", memory)
	said, err := device.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, device.Start())
	t.Cleanup(func() {
		_ = device.Process.Kill()
		_ = device.Wait()
	})
	_, err = bufio.NewReader(said).ReadString('\n')
	require.NoError(t, err, "the device says that it listens")
	name, err := program("backup", "--device", "five-line", "--port", port, "--slots", "4", "-q").Output()
	require.NoError(t, err)
	before, err := os.ReadFile(memory)
	require.NoError(t, err)

	hand, terminal, err := pty.Open()
	if err != nil {
		t.Skipf("SKIP: no pseudo-terminal here: %v", err)
	}
	defer hand.Close()
	defer terminal.Close()
	restore := program("restore", strings.TrimSpace(string(name)), "--all", "--device", "five-line", "--port", port, "-q")
	restore.Stdin = terminal
	restore.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true} // its terminal is its stdin
	talk, err := restore.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, restore.Start())
	const question = "slot 4 holds it already, and is written all the same\nWrite 1 slot of five-line? [y/N] "
	asked := make([]byte, len(question))
	_, err = io.ReadFull(talk, asked)
	require.NoError(t, err)
	require.Equal(t, question, string(asked))

	_, err = hand.Write([]byte{3}) // Ctrl-C, by which the terminal interrupts what runs on it (POSIX, General Terminal Interface, VINTR)
	require.NoError(t, err)
	var rest bytes.Buffer
	_, err = rest.ReadFrom(talk)
	require.NoError(t, err)
	var ended *exec.ExitError
	require.ErrorAs(t, restore.Wait(), &ended)
	require.Equal(t, 1, ended.ExitCode())
	require.Regexp(t, `\nechowright: interrupted: nothing was written\n$`, rest.String())
	after, err := os.ReadFile(memory)
	require.NoError(t, err)
	require.Equal(t, string(before), string(after))
}
