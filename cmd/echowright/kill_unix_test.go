//go:build unix

package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/library"
)

// killsWanted names the environment variable with the number of random moments,
// and killsTable the one with the file that gets the table of what was seen.
const (
	killsWanted = "ECHOWRIGHT_KILLS"
	killsTable  = "ECHOWRIGHT_KILLS_TABLE"
)

// TestKilledAtRandomMoments ends the program with SIGKILL at random moments of a
// push, a restore, a backup and of the command that finishes them. Afterwards each
// slot holds the old or the new content, no other slot is touched, the library is
// sound, what had begun is in the journal, and one command finishes it or puts
// everything back.
func TestKilledAtRandomMoments(t *testing.T) {
	moments, err := strconv.Atoi(os.Getenv(killsWanted))
	if err != nil {
		moments = 8
	}
	const lanes = 6
	var seen tally
	t.Run("lanes", func(t *testing.T) {
		for lane := range lanes {
			t.Run(strconv.Itoa(lane), func(t *testing.T) {
				t.Parallel()
				v := newVictim(t, uint64(lane))
				for range (moments + lanes - 1 - lane) / lanes {
					v.once(t, &seen)
				}
			})
		}
	})
	table := seen.table()
	t.Log("\n" + table)
	if file := os.Getenv(killsTable); file != "" {
		require.NoError(t, os.WriteFile(file, []byte(table), 0o666))
	}
	require.Equal(t, moments, seen.moments(), "each moment ended somehow")
}

// A victim is a device with a memory in a file, and a library.
type victim struct {
	dir    string
	random *rand.Rand
	jobs   []job
}

// A job is a command that is going to be killed, and the slots that it is to
// change, with the lines of the memory's image that they then have.
type job struct {
	name    string
	command []string
	asked   map[int]string
	lasts   time.Duration // undisturbed
}

func newVictim(t *testing.T, seed uint64) *victim {
	v := &victim{dir: t.TempDir(), random: rand.New(rand.NewPCG(seed, 5))}
	device := v.start("emulate", "five-line", "--port", "unix:"+v.path("dev"), "--keep", v.path("memory"))
	said, err := device.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, device.Start())
	t.Cleanup(func() {
		_ = device.Process.Kill()
		_ = device.Wait()
	})
	_, err = bufio.NewReader(said).ReadString('\n')
	require.NoError(t, err, "the device says that it listens")

	for name, delay := range map[string]float64{"fen": 210, "moor": 340} {
		text := fmt.Sprintf("format = \"echowright-unit/1\"\nname = %q\nkind = \"drum\"\n[[head]]\nhead = 1\ndelay_ms = %v\nlevel_db = 0.0\n", name, delay)
		require.NoError(t, os.WriteFile(v.path(name+".toml"), []byte(text), 0o666))
	}
	const slots = "8,9,10"
	factory := v.image(t)
	kept := v.must(t, "backup", "--device", "five-line", "--port", v.port(), "--slots", slots)
	for _, slot := range []string{"8", "9"} {
		v.must(t, "push", v.path("fen.toml"), "--device", "five-line", "--port", v.port(), "--slot", slot)
	}
	mixed := v.must(t, "backup", "--device", "five-line", "--port", v.port(), "--slots", slots)
	changed := v.image(t)
	v.learn(t, job{name: "push", command: []string{"push", v.path("moor.toml"), "--slot", "5"}})
	v.learn(t, job{name: "push", command: []string{"push", v.path("fen.toml"), "--slot", "5"}})
	v.learn(t, job{name: "restore", command: []string{"restore", strings.TrimSpace(kept), "--yes"}, asked: some(factory, 8, 9, 10)})
	v.learn(t, job{name: "restore", command: []string{"restore", strings.TrimSpace(mixed), "--yes"}, asked: some(changed, 8, 9, 10)})
	v.learn(t, job{name: "backup", command: []string{"backup", "--slots", "0-31"}, asked: map[int]string{}})
	return v
}

func some(image map[int]string, slots ...int) map[int]string {
	out := map[int]string{}
	for _, n := range slots {
		out[n] = image[n]
	}
	return out
}

// learn runs a job once undisturbed.
func (v *victim) learn(t *testing.T, j job) {
	j.command = append(j.command, "--device", "five-line", "--port", v.port())
	began := time.Now()
	v.must(t, j.command...)
	j.lasts = time.Since(began)
	if j.asked == nil {
		j.asked = some(v.image(t), 5)
	}
	v.jobs = append(v.jobs, j)
}

func (v *victim) path(name string) string { return filepath.Join(v.dir, name) }
func (v *victim) port() string            { return "unix:" + v.path("dev") }

func (v *victim) start(words ...string) *exec.Cmd {
	cmd := exec.Command("echowright", words...)
	cmd.Env = append(os.Environ(), "ECHOWRIGHT_HOME="+v.path("library"))
	return cmd
}

func (v *victim) must(t *testing.T, words ...string) string {
	cmd := v.start(words...)
	var talk bytes.Buffer
	cmd.Stderr = &talk
	out, err := cmd.Output()
	require.NoError(t, err, "%s: %s", words, &talk)
	return string(out)
}

// image is the device's memory, a line for each slot.
func (v *victim) image(t *testing.T) map[int]string {
	text, err := os.ReadFile(v.path("memory"))
	require.NoError(t, err)
	out := map[int]string{}
	for n, line := range strings.Split(strings.TrimSpace(string(text)), "\n")[1:] {
		out[n] = line
	}
	require.Len(t, out, 64)
	return out
}

// longestFlash is how long a slot that is being written may still change: 300 ms
// (five-line.md), and as long again for the file.
const longestFlash = 600 * time.Millisecond

// killed runs a command and kills it after a random part of its time.
func (v *victim) killed(t *testing.T, lasts time.Duration, words []string) {
	cmd := v.start(words...)
	require.NoError(t, cmd.Start())
	time.Sleep(time.Duration(v.random.Float64() * float64(lasts)))
	_ = cmd.Process.Kill() // it may have ended
	_ = cmd.Wait()
	time.Sleep(longestFlash)
}

// once kills one job, looks at what is left, and mends it.
func (v *victim) once(t *testing.T, seen *tally) {
	j := v.jobs[v.random.IntN(len(v.jobs))]
	before := v.image(t)
	v.killed(t, j.lasts, j.command)
	v.must(t, "snapshot", "check")
	open := v.open(t)
	state := v.state(t, before, j)
	if len(open) == 0 {
		if j.name == "backup" {
			state = v.resumeBackup(t)
		}
		require.NotEqual(t, "torn", state, "what is not in the journal is all old or all new")
		seen.add(j.name, state)
		return
	}
	require.Len(t, open, 1)
	flags, want, ended := []string{"resume"}, j.asked, "finished"
	if v.random.IntN(2) == 0 {
		flags, want, ended = append(flags, "--put-back"), before, "put back"
	}
	if v.random.IntN(3) == 0 {
		v.killed(t, j.lasts, flags)
		ended += " at the second try"
	}
	if len(v.open(t)) > 0 {
		v.must(t, flags...)
	}
	now := v.image(t)
	for n := range j.asked {
		require.Equal(t, want[n], now[n], "slot %d", n)
	}
	require.Empty(t, v.open(t))
	v.must(t, "snapshot", "check")
	seen.add(j.name, "in the journal, "+ended)
}

// state says what the slots of a job hold, after making sure that no other slot
// was touched.
func (v *victim) state(t *testing.T, before map[int]string, j job) string {
	now := v.image(t)
	old, changed := true, true
	for n := range now {
		asked, meant := j.asked[n]
		if !meant {
			require.Equal(t, before[n], now[n], "slot %d was not meant", n)
			continue
		}
		require.Contains(t, []string{before[n], asked}, now[n], "slot %d is old or new", n)
		old = old && now[n] == before[n]
		changed = changed && now[n] == asked
	}
	switch {
	case old:
		return "all old"
	case changed:
		return "all new"
	}
	return "torn"
}

// resumeBackup goes on with a backup that is marked partial, if there is one.
func (v *victim) resumeBackup(t *testing.T) string {
	var list struct {
		Snapshots []struct {
			Name     string
			Complete bool
		} `json:"snapshot"`
	}
	require.NoError(t, json.Unmarshal([]byte(v.must(t, "snapshot", "list", "--json")), &list))
	for _, s := range list.Snapshots {
		if !s.Complete {
			v.must(t, "backup", "--resume", "--device", "five-line", "--port", v.port())
			v.must(t, "snapshot", "check")
			return "partial, then complete"
		}
	}
	return "complete, or nothing yet"
}

func (v *victim) open(t *testing.T) []library.IntentEntry {
	shelf, err := library.Open(v.path("library"), time.Now)
	require.NoError(t, err)
	all, err := shelf.Intents()
	require.NoError(t, err)
	for _, e := range all {
		require.NoError(t, e.Err)
	}
	return all
}

// A tally counts how the jobs ended.
type tally struct {
	mu    sync.Mutex
	count map[string]map[string]int
}

func (c *tally) add(job, state string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.count == nil {
		c.count = map[string]map[string]int{}
	}
	if c.count[job] == nil {
		c.count[job] = map[string]int{}
	}
	c.count[job][state]++
}

func (c *tally) moments() int {
	n := 0
	for _, states := range c.count {
		for _, k := range states {
			n += k
		}
	}
	return n
}

func (c *tally) table() string {
	var b strings.Builder
	b.WriteString("| killed | left behind | moments |\n| --- | --- | --: |\n")
	for _, job := range slices.Sorted(maps.Keys(c.count)) {
		for _, state := range slices.Sorted(maps.Keys(c.count[job])) {
			fmt.Fprintf(&b, "| %s | %s | %d |\n", job, state, c.count[job][state])
		}
	}
	return b.String()
}
