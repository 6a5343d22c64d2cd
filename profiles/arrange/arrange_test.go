package arrange

import (
	"echowright/preset"
	"echowright/profiles"
	"fmt"
	"github.com/stretchr/testify/require"
	"testing"
	"time"
)

func TestTry(t *testing.T) {
	d, err := profiles.Shipped("five-line")
	require.NoError(t, err)
	u := preset.Unit{Heads: []preset.Head{{Head: 1, Delay: 121, Level: -7}, {Head: 2, Delay: 263, Level: 0}, {Head: 3, Delay: 405, Level: -2}}, Feedback: &preset.Feedback{Heads: []int{3}, Gain: -6.9}}
	p, err := u.Pattern()
	require.NoError(t, err)
	t0 := time.Now()
	r, err := Arrange(p, d)
	require.NoError(t, err)
	fmt.Println(time.Since(t0), r.Error, r.Shift, len(r.Extra))
	for _, row := range d.Rows(r.Setting) {
		fmt.Print(row.Parameter, "=", row.Value, " ")
	}
	fmt.Println()
	for _, e := range r.Echoes {
		if e.GotAt == nil {
			fmt.Println(e.At, e.Level, "-")
		} else {
			fmt.Printf("%.2f %.2f  %.2f %.2f\n", e.At, e.Level, *e.GotAt, *e.GotLevel)
		}
	}
}
