package exchange

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/profiles"
)

func TestTheWordsThatNameADevice(t *testing.T) {
	d, err := profiles.Shipped("five-line")
	require.NoError(t, err)
	for _, c := range []struct {
		session Session
		want    string
	}{
		{Session{Rig: "stage", Port: "raw:/dev/midi1"}, "--rig stage"},
		{Session{Port: "raw:/dev/midi1"}, "--device five-line --port raw:/dev/midi1"},
		{Session{Port: "raw:/dev/midi1", Unit: 3, Channel: 9}, "--device five-line --port raw:/dev/midi1 --unit 3 --channel 9"},
		{Session{Port: "os:Fen Delay"}, "--device five-line --port 'os:Fen Delay'"},
		{Session{Port: "os:Fen's"}, `--device five-line --port 'os:Fen'\''s'`}, // as a POSIX shell wants it
	} {
		c.session.Device = d
		require.Equal(t, c.want, c.session.Target())
	}
}
