package profiles

// lineFile is what all lines have in common.
type lineFile struct {
	stepsFile
	Names      []string        `toml:"names"`
	Parameters []parameterFile `toml:"parameter"`
}

// tapFile is what all taps of every line have in common.
type tapFile struct {
	stepsFile
	Names      []string        `toml:"names"`
	Parameters []parameterFile `toml:"parameter"`
}

// loopFile is what a line feeds back.
type loopFile struct {
	From  string `toml:"from"`  // "line", "tap", "sum"
	Tap   string `toml:"tap"`   // the tap, where it is always the same
	Level string `toml:"level"` // "before" or "after" the tap's own level and polarity
	Tone  string `toml:"tone"`  // where the cuts stand: "memory", "loop" or "output"
}

// limitsFile is what the times of a setting must keep to.
type limitsFile struct {
	LongestMs  float64 `toml:"longest_ms"`
	TotalMs    float64 `toml:"total_ms"`
	DistanceMs float64 `toml:"distance_ms"`
	Ascending  bool    `toml:"ascending"`
}
