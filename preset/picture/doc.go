// Package picture turns a measured take, and the echoes wanted beside the echoes
// got, into an SVG drawing that someone can read who has only ever looked at a
// waveform. It makes text and sees no file.
//
// A page is a title and some panels, one below the other: [Waveform] shows the
// take as it was recorded with a line at each echo, [Levels] the same echoes as
// stems on a scale in dB with what is uncertain about them, [Comparison] the
// echoes wanted beside those that a device makes.
//
// The newcomer starts with take.go, then page.go.
package picture
