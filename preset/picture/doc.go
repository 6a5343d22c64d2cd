// Package picture turns what was measured of a take into a page of drawings that
// someone can read who has only ever looked at a waveform: as SVG text or as a
// PNG image. It sees no file.
//
// A page is a title and some panels, one below the other, each with a heading, a
// unit at every axis and a sentence that says how to read it. Of notes there are
// [Waveform], [Levels], [Remainder], [Tones] and [Motion]; of test signals
// [Impulse], [Tones], [Harmonics], [Motion], [Rates], [Transfer] and
// [StepHarmonics]; [Comparison] shows echoes wanted beside echoes got.
//
// Panels draw on a [sheet], which keeps shapes; the shapes then go onto a canvas,
// of which there are two: text and pixels. So both have one layout, measured with
// the font that the pixels are drawn with and that the text asks for.
//
// The newcomer starts with take.go, then page.go, sheet.go and frame.go.
package picture
