package main

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// mostOfACore is what following a clock may take of one at 300 BPM, in %.
const mostOfACore = 1.0

// BenchmarkFollowing is what the whole program takes of a core while it follows a
// steady clock at 300 BPM over a socket, by the kernel's count of the time that its
// threads ran. Two beats to settle and the first setting come before.
func BenchmarkFollowing(b *testing.B) {
	const tempo, settling, beats = 300, 3 * time.Second, 60
	home := b.TempDir()
	device, sequencer := filepath.Join(home, "device"), filepath.Join(home, "sequencer")
	begin(b, home, "emulate", "five-line", "--port", "unix:"+device)
	clock, err := net.Listen("unix", sequencer)
	require.NoError(b, err)
	defer clock.Close()
	require.Eventually(b, func() bool { _, err := os.Stat(device); return err == nil }, 10*time.Second, 10*time.Millisecond)
	unit, err := filepath.Abs("../../examples/saltmarsh-drum-1.toml")
	require.NoError(b, err)
	pid := begin(b, home, "follow", unit, "--device", "five-line", "--port", "unix:"+device, "--clock", "unix:"+sequencer, "--note", "1/4")
	to, err := clock.Accept()
	require.NoError(b, err)
	defer to.Close()
	playClock(to, []clockPart{{tempo, tempo / 60 * settling.Seconds()}})
	var ran, took time.Duration
	for b.Loop() {
		before, began := ranFor(b, pid), time.Now()
		playClock(to, []clockPart{{tempo, beats}})
		ran += ranFor(b, pid) - before
		took += time.Since(began)
	}
	share := 100 * ran.Seconds() / took.Seconds()
	b.ReportMetric(share, "%-of-a-core-at-300-BPM")
	b.ReportMetric(mostOfACore, "%-limit")
	if share > mostOfACore {
		b.Errorf("%.2f %% of a core", share)
	}
}

// begin starts the program, and ends it with the benchmark.
func begin(b *testing.B, home string, words ...string) (pid int) {
	b.Helper()
	cmd := exec.Command("echowright", words...)
	cmd.Env = append(os.Environ(), "ECHOWRIGHT_HOME="+filepath.Join(home, "library"))
	require.NoError(b, cmd.Start())
	b.Cleanup(func() {
		_ = cmd.Process.Signal(os.Interrupt)
		_ = cmd.Wait()
	})
	return cmd.Process.Pid
}

// ranFor is how long the threads of a process have run: the first figure of their
// schedstat, in ns (Linux, Documentation/scheduler/sched-stats.rst).
func ranFor(b *testing.B, pid int) (all time.Duration) {
	b.Helper()
	threads, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/schedstat", pid))
	require.NoError(b, err)
	require.NotEmpty(b, threads, "the program has ended, or the kernel does not count")
	for _, t := range threads {
		text, err := os.ReadFile(t)
		require.NoError(b, err)
		ran, _, _ := strings.Cut(string(text), " ")
		ns, err := strconv.ParseInt(ran, 10, 64)
		require.NoError(b, err)
		all += time.Duration(ns)
	}
	return all
}
