package profiles

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestShippedProfilesParse(t *testing.T) {
	for _, name := range Names() {
		d, err := Shipped(name)
		require.NoError(t, err)
		require.Equal(t, name, d.Name)
	}
}
