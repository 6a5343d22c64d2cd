//go:build unix

package library

import (
	"bufio"
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
	case "conversing": // until killed: a backup that grows, and writings in a journal
		for {
			s := begun()
			s.Taken = time.Now()
			name, _ := l.WriteSnapshot(ctx, s)
			_ = l.GrowSnapshot(ctx, name, rest[:1], false)
			i := pushing()
			i.Began = time.Now()
			intent, _ := l.Begin(ctx, i)
			_ = l.GrowSnapshot(ctx, name, rest[1:], true)
			_ = l.Finish(ctx, intent)
		}
	case "port": // holds a port until killed
		_, err := l.LockPort(cable)
		fmt.Println("locked:", err)
		select {}
	case "powerless":
		becomeNobody()
		units, err := l.Units.List()
		fmt.Println(len(units), err)
		_, err = l.Units.Add(ctx, "t.toml", unitText("new"), false)
		fmt.Println(err)
		_, err = l.Units.Remove(ctx, "saltmarsh")
		fmt.Println(err)
		_, err = l.WriteSnapshot(ctx, evenings())
		fmt.Println(err)
		_, err = l.Begin(ctx, pushing())
		fmt.Println(err)
		_, err = l.LockPort(cable)
		fmt.Println(err)
	case "shut out":
		becomeNobody()
		all, err := l.Intents()
		for _, e := range all {
			fmt.Println(e.Name, e.Err)
		}
		fmt.Println(err)
	}
}

// becomeNobody gives up root's right to do everything.
func becomeNobody() {
	if os.Getuid() != 0 {
		return
	}
	if err := syscall.Setuid(65534); err != nil {
		fmt.Println("cannot become nobody:", err)
		os.Exit(1)
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

// Killed at any moment, a process leaves snapshots that are complete or marked
// partial and can be completed, and at most the one intent that it was about.
func TestKilledInAConversation(t *testing.T) {
	l := open(t)
	for i := range 15 {
		conversing := asChild("conversing", l.Home())
		require.NoError(t, conversing.Start())
		time.Sleep(time.Duration(20+7*i) * time.Millisecond) // a real process cannot be killed on a clock of ours
		require.NoError(t, conversing.Process.Kill())
		_ = conversing.Wait() // says that it was killed

		for n := requireIntents(t, l, 1); n > 0; n-- {
			all, err := l.Intents()
			require.NoError(t, err)
			require.NoError(t, l.Finish(t.Context(), all[0].Name))
		}
		partial := 0
		all, err := l.Snapshots()
		require.NoError(t, err)
		for _, e := range all {
			require.NoError(t, e.Err)
			s := read(t, l, e.Name)
			if s.Complete {
				require.Equal(t, []int{0, 3, 12}, slotNumbers(s))
				continue
			}
			partial++
			require.Equal(t, []int{0, 3, 12}, s.Asked)
			require.NoError(t, l.GrowSnapshot(t.Context(), e.Name, rest, true))
		}
		require.LessOrEqual(t, partial, 1)
	}
	all, err := l.Snapshots()
	require.NoError(t, err)
	require.NotEmpty(t, all)
	begin(t, l, pushing()) // each kind of work takes away what was left of its own
	write(t, l, evenings())
	requireNoLeftovers(t, l)
}

func TestAPortIsFreeWhenItsProcessIsKilled(t *testing.T) {
	l := open(t)
	holder := asChild("port", l.Home())
	out, err := holder.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, holder.Start())
	said, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	require.Equal(t, "locked: <nil>\n", said)

	_, err = l.LockPort(cable)
	var locked *PortLockedError
	require.ErrorAs(t, err, &locked)

	require.NoError(t, holder.Process.Kill())
	_ = holder.Wait() // says that it was killed
	unlock, err := l.LockPort(cable)
	require.NoError(t, err)
	require.NoError(t, unlock())
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
	require.Len(t, said, 6)
	require.Equal(t, "1 <nil>", said[0])
	for _, error := range said[1:] {
		require.Contains(t, error, "permission denied; ask for the right to write into that folder, or choose another place")
	}
	require.Equal(t, []string{"lock", "units/saltmarsh.toml"}, files(t, l))
}

// What is under way is never passed over because it cannot be read.
func TestAnIntentThatMayNotBeRead(t *testing.T) {
	l := open(t)
	require.NoError(t, os.Chmod(filepath.Dir(filepath.Dir(l.Home())), 0o755)) // nobody must be able to get there
	require.NoError(t, os.Chmod(filepath.Dir(l.Home()), 0o755))
	name := begin(t, l, pushing())
	journal := l.intentPath("")
	for mode, want := range map[os.FileMode]string{
		0o744: name, // its names can be read, what they stand for not
		0o700: "looking for what is under way: ",
	} {
		require.NoError(t, os.Chmod(journal, mode))
		out, err := asChild("shut out", l.Home()).Output()
		require.NoError(t, err)
		require.Contains(t, string(out), want)
		require.Contains(t, string(out), "permission denied")
	}
	require.NoError(t, os.Chmod(journal, 0o755))
}
