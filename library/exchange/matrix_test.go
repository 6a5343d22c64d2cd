package exchange

import (
	"cmp"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
)

// The environment variables that ask for every message ("every"), or every byte and
// more chances ("full"), and for a
// file that gets the table.
const (
	faultsWanted = "ECHOWRIGHT_FAULTS"
	faultsTable  = "ECHOWRIGHT_FAULTS_TABLE"
)

// TestFaultMatrix orders every fault of the emulated hardware, at every message
// of a push, a backup and a restore, also where slots travel as File Dumps. In
// the end the device holds what was said, a snapshot has what was overwritten,
// and what is not settled is in the journal and can be finished or put back.
func TestFaultMatrix(t *testing.T) {
	m := newMatrix(inMemory(t), os.Getenv(faultsWanted))
	grounds := map[string]*ground{} // by device, and job where it needs one of its own
	for _, device := range []string{"five-line", "open-parameter"} {
		grounds[device] = newGround(t, device, filepath.Join(m.folder, device))
		grounds[device+resumed] = grounds[device].interrupted(t, filepath.Join(m.folder, device+resumed))
	}
	var names []string
	jobs := matrixJobs()
	t.Run("cells", func(t *testing.T) {
		for _, j := range jobs {
			g := cmp.Or(grounds[j.device+j.name], grounds[j.device])
			healthy := m.judged(t, g, j, row{}, cell{name: "health"})
			require.Equal(t, endAsked, healthy.told)
			for _, r := range m.rows(j.device, healthy.count, len(j.asked(g))) {
				if !slices.Contains(names, r.name) {
					names = append(names, r.name)
				}
				t.Run(fmt.Sprintf("%s/%s/%s", r.name, j.device, j.name), func(t *testing.T) {
					t.Parallel()
					for _, c := range m.thinned(r.cells) {
						m.count(r, j, m.judged(t, g, j, r, c))
					}
				})
			}
		}
	})
	table := m.table(names, jobs)
	t.Log("\n" + table)
	if file := os.Getenv(faultsTable); file != "" {
		require.NoError(t, os.WriteFile(file, []byte(table), 0o666))
	}
}

// longest is how long a conversation may take, whatever befalls it.
const longest = 40 * time.Second

// An outcome is what came of a cell.
type outcome struct {
	told  end
	code  int // the exit code
	took  time.Duration
	count counted
	lies  []string
	err   error // that the job ended with
}

// judged is a cell that was tried; what was wrong with it fails the test.
func (m *matrix) judged(t *testing.T, g *ground, j job, r row, c cell) outcome {
	o := m.try(t, g, j, c)
	if lie := broken(r.name, j, c, o); lie != "" {
		o.lies = append(o.lies, lie)
	}
	for _, lie := range o.lies {
		t.Errorf("%s, %s of %s: %s\n(told: %s, exit %d, %v; error: %v)", c.name, j.name, j.device, lie, o.told, o.code, o.took, o.err)
	}
	return o
}

// try runs a job on a device with a fault, in a library of its own.
func (m *matrix) try(t *testing.T, g *ground, j job, c cell) (o outcome) {
	t.Helper()
	home, err := os.MkdirTemp(m.folder, "cell-")
	require.NoError(t, err)
	defer os.RemoveAll(home)
	ours := filepath.Join(home, "library")
	require.NoError(t, os.CopyFS(ours, os.DirFS(g.home)))
	synctest.Test(t, func(t *testing.T) {
		ctx, interrupt := context.WithTimeout(t.Context(), 10*longest)
		defer interrupt()
		watch := &tap{pullAfter: c.pullAfter, ctrlC: c.ctrlC, interrupt: interrupt}
		b := connect(t, g, ours, g.image, c.options, watch)
		began := time.Now()
		a := j.do(ctx, b.Session, g)
		o = outcome{told: a.told(), code: a.code(), took: time.Since(began), count: watch.counted(), err: a.err}
		b.end(t)
		o.lies = a.lies(t, g, j, b)
		if o.took > longest {
			o.lies = append(o.lies, fmt.Sprintf("it took %v", o.took))
		}
		for _, way := range a.ways() {
			other := filepath.Join(home, way.name)
			require.NoError(t, os.CopyFS(other, os.DirFS(ours)))
			for _, lie := range a.healed(t, g, j, other, b.unit.Image(), way) {
				o.lies = append(o.lies, way.name+": "+lie)
			}
		}
	})
	return o
}
