package picture

import "image/color"

// An ink is what something is drawn in: a colour by day and one by night.
type ink int

// The inks. Those of heads come last: see [inkOf].
const (
	paper ink = iota
	black
	grey
	gridline
	frameline
	sound
	pale
	bright
	amber
	firstHeadInk
)

type colours struct {
	class      string
	day, night color.RGBA
}

// inks follow the palette of Okabe and Ito ("Color Universal Design", 2008), which
// people with any of the common kinds of colour blindness can tell apart; some are
// darkened so that each line has three times the contrast to its paper that WCAG
// 2.1 (1.4.11) asks for. In print without colour heads differ by sign and dashes.
var inks = [...]colours{
	paper:            {"paper", rgb(0xffffff), rgb(0x16181d)},
	black:            {"black", rgb(0x1f2328), rgb(0xe6e8eb)},
	grey:             {"grey", rgb(0x57606a), rgb(0xa8b0ba)},
	gridline:         {"grid", rgb(0xe2e5e9), rgb(0x30343b)},
	frameline:        {"frame", rgb(0x848c95), rgb(0x767d87)},
	sound:            {"sound", rgb(0x6b7f99), rgb(0x7f96b5)},
	pale:             {"pale", rgb(0x9db7d5), rgb(0x41618a)},
	bright:           {"bright", rgb(0xc24e00), rgb(0xff9757)},
	amber:            {"amber", rgb(0x8a6500), rgb(0xe0b23c)},
	firstHeadInk:     {"head1", rgb(0x0072b2), rgb(0x4db5f2)},
	firstHeadInk + 1: {"head2", rgb(0xc24e00), rgb(0xff9757)},
	firstHeadInk + 2: {"head3", rgb(0x00795a), rgb(0x3fcfa5)},
	firstHeadInk + 3: {"head4", rgb(0xa3427f), rgb(0xe79bc9)},
	firstHeadInk + 4: {"head5", rgb(0x7a5c00), rgb(0xe0b23c)},
	firstHeadInk + 5: {"head6", rgb(0x4b4b4b), rgb(0xc8c8c8)},
}

const headInks = 6

// inkOf is the ink of the head that comes i-th, from 0.
func inkOf(i int) ink { return firstHeadInk + ink(i%headInks) }

func rgb(hex uint32) color.RGBA {
	return color.RGBA{R: uint8(hex >> 16), G: uint8(hex >> 8), B: uint8(hex), A: 255}
}

// A dash is the lengths of strokes and gaps in pixels, a whole line if there are
// none.
type dash string

const (
	whole  dash = ""
	dotted dash = "2 3"
	broken dash = "6 4"
)

// dashes tell heads apart where there is no colour.
var dashes = [...]dash{whole, "9 4", "2 3", "9 3 2 3", "14 5", "5 3"}

func dashOf(i int) dash { return dashes[i%len(dashes)] }

// signs are the outlines of the marks of heads, for a sign of about 9 pixels.
var signs = [...][]point{
	{{-4, -1.7}, {-1.7, -4}, {1.7, -4}, {4, -1.7}, {4, 1.7}, {1.7, 4}, {-1.7, 4}, {-4, 1.7}}, // nearly round
	{{-3.7, -3.7}, {3.7, -3.7}, {3.7, 3.7}, {-3.7, 3.7}},
	{{0, -5}, {4.6, 3.4}, {-4.6, 3.4}},
	{{0, -5.2}, {5.2, 0}, {0, 5.2}, {-5.2, 0}},
	{{0, 5}, {-4.6, -3.4}, {4.6, -3.4}},
	{{-1.6, -5}, {1.6, -5}, {1.6, -1.6}, {5, -1.6}, {5, 1.6}, {1.6, 1.6}, {1.6, 5}, {-1.6, 5}, {-1.6, 1.6}, {-5, 1.6}, {-5, -1.6}, {-1.6, -1.6}},
}

// sign is the mark of the head that comes i-th, hollow for a repeat.
func sign(at point, i int, hollow bool) area {
	// Beyond six heads the same ink comes back with another sign.
	outline := signs[(i+i/headInks)%len(signs)]
	a := area{ink: inkOf(i), hollow: hollow, points: make([]point, len(outline))}
	for k, p := range outline {
		a.points[k] = point{at.x + p.x, at.y + p.y}
	}
	return a
}
