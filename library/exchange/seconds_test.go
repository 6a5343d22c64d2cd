package exchange

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestScriptsGetSecondsInWholeMilliseconds(t *testing.T) {
	for _, c := range []struct {
		seconds Seconds
		want    string
	}{
		{0, "0"}, {0.12823327299999995, "0.128"}, {0.1 + 0.2, "0.3"}, {0.0004, "0"}, {0.0006, "0.001"}, {3, "3"}, {12345.6789, "12345.679"},
	} {
		got, err := json.Marshal(Spent{Messages: 2, Bytes: 14, Seconds: c.seconds})
		require.NoError(t, err)
		require.Equal(t, `{"messages":2,"bytes":14,"seconds":`+c.want+`}`, string(got))
	}
}
