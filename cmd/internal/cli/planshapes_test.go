package cli

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/profiles"
)

// Whatever a device's structure and messages, a plan says what it would be told.
func TestAPlanForEveryShippedDevice(t *testing.T) {
	unit := write(t, "fen.toml", someUnit)
	for _, name := range profiles.Names() {
		t.Run(name, func(t *testing.T) {
			v := world(t).run(t, "plan", unit, "--device", name, "--json", "-q").decode(t)
			require.NotEmpty(t, v["message"])
			for _, m := range v["message"].([]any) {
				require.NotEmpty(t, m)
			}
			d, err := profiles.Shipped(name)
			require.NoError(t, err)
			require.Len(t, v["setting"], len(d.Parameters))
			s := world(t).run(t, "plan", unit, "--device", name, "--bytes", "-q")
			require.Equal(t, exitDone, s.code, s.talk)
			_, groups := groupsOf(d)
			for _, g := range groups {
				require.Contains(t, s.out, "\n"+g.name+" ")
			}
		})
	}
}

func TestEveryParameterIsShownOnceInAPlan(t *testing.T) {
	for _, name := range profiles.Names() {
		d, err := profiles.Shipped(name)
		require.NoError(t, err)
		_, groups := groupsOf(d)
		seen := map[int]int{}
		for _, g := range groups {
			for _, i := range g.parameters {
				seen[i]++
			}
		}
		for i, n := range seen {
			require.Equal(t, 1, n, "%s: %s", name, d.Parameters[i].Name)
		}
		require.NotEmpty(t, strings.Join(strings.Fields(groups[0].name), " "))
	}
}
