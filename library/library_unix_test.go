//go:build unix

package library

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The test binary calls itself where a process of its own is needed.
const childKey = "ECHOWRIGHT_TEST_CHILD"

func TestMain(m *testing.M) {
	if role := os.Getenv(childKey); role != "" {
		child(role, os.Args[1], os.Args[2:]...)
		return
	}
	os.Exit(m.Run())
}

func child(role, home string, more ...string) {
	if role == "work" {
		workAsChild(more[0], home)
		return
	}
	l, err := Open(home, time.Now)
	if err != nil {
		fmt.Println(err)
		return
	}
	ctx := context.Background()
	switch role {
	case "adder": // twenty units of its own, and one that all fight for
		won := false
		for i := range 20 {
			if _, err := l.Units.Add(ctx, "t.toml", unitText(fmt.Sprintf("unit-%d-%d", os.Getpid(), i)), false); err != nil {
				fmt.Println(err)
			}
		}
		_, err := l.Units.Add(ctx, "t.toml", unitText("wanted"), false)
		var exists *ExistsError
		if won = err == nil; !won && !errors.As(err, &exists) {
			fmt.Println(err)
		}
		if won {
			fmt.Print("won")
		}
	case "busy": // until killed
		for i := 0; ; i++ {
			_, _ = l.Units.Add(ctx, "t.toml", unitText("steady", fmt.Sprint(i)), true)
			_, _ = l.Units.Add(ctx, "t.toml", unitText("fleeting"), false)
			_, _ = l.Units.Remove(ctx, "fleeting")
			s := evenings()
			s.Taken = time.Now()
			_, _ = l.WriteSnapshot(ctx, s)
		}
	case "powerless":
		if os.Getuid() == 0 {
			if err := syscall.Setuid(65534); err != nil {
				fmt.Println("cannot become nobody:", err)
				return
			}
		}
		units, err := l.Units.List()
		fmt.Println(len(units), err)
		_, err = l.Units.Add(ctx, "t.toml", unitText("new"), false)
		fmt.Println(err)
		_, err = l.Units.Remove(ctx, "saltmarsh")
		fmt.Println(err)
		_, err = l.WriteSnapshot(ctx, evenings())
		fmt.Println(err)
	}
}

// workAsChild does one of works in a process of its own, in one thread: strace
// counts the operations of each.
func workAsChild(name, home string) {
	runtime.LockOSThread()
	l, err := Open(home, time.Now)
	if err == nil {
		err = works()[name].do(context.Background(), l)
	}
	if err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
}

func asChild(role, home string) *exec.Cmd {
	command := exec.Command(os.Args[0], home)
	command.Env = append(os.Environ(), childKey+"="+role)
	return command
}

func TestTwoProcessesLoseNothingOfEachOther(t *testing.T) {
	l := open(t)
	var said [2]strings.Builder
	var children [2]*exec.Cmd
	for i := range children {
		children[i] = asChild("adder", l.Home())
		children[i].Stdout = &said[i]
		require.NoError(t, children[i].Start())
	}
	for _, c := range children {
		require.NoError(t, c.Wait())
	}
	require.ElementsMatch(t, []string{"won", ""}, []string{said[0].String(), said[1].String()})
	units, err := l.Units.List()
	require.NoError(t, err)
	require.Len(t, units, 41)
	for _, u := range units {
		require.NoError(t, u.Err)
	}
}

// Killed at any moment, a process leaves units and snapshots that are whole, and
// a lock that the next one gets.
func TestKilledInTheMiddle(t *testing.T) {
	l := open(t)
	add(t, l, "steady")
	for i := range 15 {
		busy := asChild("busy", l.Home())
		require.NoError(t, busy.Start())
		time.Sleep(time.Duration(20+7*i) * time.Millisecond) // a real process cannot be killed on a clock of ours
		require.NoError(t, busy.Process.Kill())
		_ = busy.Wait() // says that it was killed

		_, err := l.Units.Get("steady")
		require.NoError(t, err, "it was replaced again and again, but never gone")
		units, err := l.Units.List()
		require.NoError(t, err)
		for _, u := range units {
			require.NoError(t, u.Err)
		}
	}
	snapshots, err := l.Snapshots()
	require.NoError(t, err)
	require.NotEmpty(t, snapshots)
	for _, s := range snapshots {
		require.NoError(t, s.Err)
		require.NoError(t, l.CheckSnapshot(s.Name))
	}
	add(t, l, "after")
	_, err = l.WriteSnapshot(t.Context(), evenings())
	require.NoError(t, err)
	for _, f := range files(t, l) {
		if !strings.HasPrefix(f, "trash/") { // where a leftover harms nobody
			require.NotContains(t, f, ".partial-")
		}
	}
}

func TestAReadOnlyLibraryCanBeRead(t *testing.T) {
	l := open(t)
	add(t, l, "saltmarsh")
	require.NoError(t, os.Chmod(filepath.Dir(filepath.Dir(l.Home())), 0o755)) // nobody must be able to get there
	var folders []string
	for _, folder := range []string{filepath.Dir(l.Home()), l.Home(), filepath.Join(l.Home(), "units")} {
		folders = append(folders, folder)
		require.NoError(t, os.Chmod(folder, 0o555))
	}
	defer func() {
		for _, folder := range folders {
			_ = os.Chmod(folder, 0o755)
		}
	}()
	out, err := asChild("powerless", l.Home()).Output()
	require.NoError(t, err)
	said := strings.Split(strings.TrimSpace(string(out)), "\n")
	require.Len(t, said, 4)
	require.Equal(t, "1 <nil>", said[0])
	for _, error := range said[1:] {
		require.Contains(t, error, "permission denied; ask for the right to write into that folder, or choose another place")
	}
	require.Equal(t, []string{"lock", "units/saltmarsh.toml"}, files(t, l))
}
