//go:build !race

package exchange

// underRace is whether the race detector runs, which makes everything slow.
const underRace = false
