package library

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// These tests have strace stop the program, or refuse it something, at the first
// file operation of a kind, then at the second, and so on until there is no
// further one.

func operations() []string {
	return []string{"mkdirat", "write", "fsync", "renameat", "renameat2", "linkat", "unlinkat"}
}

// traced runs a work under strace, which injects something into an operation, and
// gives how it ended and whether there was such an operation.
func traced(t *testing.T, l *Library, name, inject string) (code int, said string, struck bool) {
	t.Helper()
	log := filepath.Join(t.TempDir(), "strace")
	operation, _, _ := strings.Cut(inject, ":")
	command := exec.Command("strace", "-f", "-o", log, "-e", "trace="+operation, "-e", "inject="+inject, os.Args[0], l.Home(), name)
	command.Env = append(os.Environ(), childKey+"=work")
	out, _ := command.Output() // how it ended is told by the code
	text, err := os.ReadFile(log)
	require.NoError(t, err)
	struck = strings.Contains(string(text), "INJECTED") || strings.Contains(string(text), "killed by SIGKILL")
	return command.ProcessState.ExitCode(), string(out), struck
}

func needStrace(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("SKIP: a process for each file operation takes some seconds")
	}
	if out, err := exec.Command("strace", "-e", "inject=write:signal=SIGKILL:when=9999", "true").CombinedOutput(); err != nil {
		t.Skipf("SKIP: strace, which stops a program at a chosen file operation, is not there or not allowed: %v %s", err, out)
	}
}

// strikeEach does the work once for each file operation in it, with something
// injected there, and has look judge what came of it. It gives how many there were.
func strikeEach(t *testing.T, name, inject string, look func(l *Library, operation string, code int, said string)) (struck int) {
	t.Helper()
	w := works()[name]
	for _, operation := range operations() {
		for n := 1; ; n++ {
			l := prepared(t, w)
			at := fmt.Sprintf("%s:%s:when=%d", operation, inject, n)
			code, said, hit := traced(t, l, name, at)
			if !hit {
				require.Zero(t, code, "%s: %s", at, said)
				require.True(t, w.done(t, l))
				break
			}
			struck++
			look(l, at, code, said)
			requireRedone(t, l, w)
		}
	}
	return struck
}

func prepared(t testing.TB, w work) *Library {
	t.Helper()
	l := open(t)
	if w.prepare != nil {
		w.prepare(t, l)
	}
	return l
}

func TestKilledAtEveryFileOperation(t *testing.T) {
	needStrace(t)
	for name, w := range works() {
		t.Run(name, func(t *testing.T) {
			after := 0
			struck := strikeEach(t, name, "signal=SIGKILL", func(l *Library, _ string, _ int, _ string) {
				if w.done(t, l) {
					after++
				}
			})
			require.NotZero(t, after, "killed when all was there, but not all certain to outlast a power cut")
			require.Greater(t, struck, after, "killed before anything was to be seen")
			t.Logf("killed at %d operations: %d times as before the work, %d times as after it", struck, struck-after, after)
		})
	}
}

// An error of the disk is told whatever it strikes, and leaves the one state or
// the other.
func TestAnErrorAtEveryFileOperation(t *testing.T) {
	needStrace(t)
	for name, w := range works() {
		t.Run(name, func(t *testing.T) {
			struck := strikeEach(t, name, "error=EIO", func(l *Library, at string, code int, said string) {
				if strings.HasPrefix(at, "unlinkat") { // what was to be removed is hidden already
					require.True(t, w.done(t, l), at)
					return
				}
				require.Equal(t, 1, code, "nothing was said of %s", at)
				require.Contains(t, said, "input/output error", at)
				if _, err := os.Stat(l.Home()); err == nil {
					requireNoLeftovers(t, l)
				}
				if w.done(t, l) {
					require.False(t, w.undone, at)
				}
			})
			require.NotZero(t, struck)
			t.Logf("the disk refused each of %d operations", struck)
		})
	}
}
