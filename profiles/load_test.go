package profiles

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A profile is loaded in under 5 ms.
func BenchmarkLoad(b *testing.B) {
	for _, name := range Names() {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := Shipped(name); err != nil {
					b.Fatal(err)
				}
			}
			perLoad := b.Elapsed() / time.Duration(b.N)
			b.ReportMetric(perLoad.Seconds()*1000, "ms/load")
		})
	}
}

func BenchmarkNetwork(b *testing.B) {
	d := shippedDevice(b, "tap-loop")
	s := d.Rest()
	for b.Loop() {
		if _, err := d.Network(s); err != nil {
			b.Fatal(err)
		}
	}
}

// Nothing of what is handed out is the device's own: what a caller writes into
// it does not change the device.
func TestCodesHandedOutAreCopies(t *testing.T) {
	s := shippedDevice(t, "twin").Parameters[0].Scale
	s.Rising()[0] = 99
	require.Zero(t, s.Rising()[0])
}
