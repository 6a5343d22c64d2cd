package preset

import "math"

// A Reach says what it takes to make a machine run at another speed.
type Reach string

// What a change of speed takes, from the least to the most. The first limit is the
// ratio of the two mains frequencies, 60 Hz to 50 Hz: a synchronous motor takes
// its speed from the mains. The second is the ratio of two neighbouring nominal
// tape speeds (76.2, 38.1, 19.05, 9.525, 4.76 cm/s: IASA TC-04, table 1 of 5.4.10,
// and IEC 60094-1, whose nominal speeds are a geometric progression): machines
// for two of them exist, by another pulley or a motor of twice the poles. That no
// motor goes beyond is common practice, no source.
const (
	ReachTrim  Reach = "trim"  // up to 1.2 to 1
	ReachStep  Reach = "step"  // up to 2 to 1
	ReachNever Reach = "never" // beyond
)

// The limits above, as ratios of speed.
const (
	MainsStep = 60.0 / 50.0
	SpeedStep = 2.0
)

// ReachOf says what it takes to run at ratio of the measured speed, slower or
// faster.
func ReachOf(ratio float64) Reach {
	const rounding = 1 + 1e-9
	away := math.Max(ratio, 1/ratio)
	switch {
	case away <= MainsStep*rounding:
		return ReachTrim
	case away <= SpeedStep*rounding:
		return ReachStep
	}
	return ReachNever
}
