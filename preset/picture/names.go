package picture

// A name stands in a strip above a frame, beside a leader that goes down from it
// to what it names.
type name struct {
	x     float64
	words string
	face  face
	must  bool // has a place, however many rows it takes
}

// A nameplace is where a name has come to stand; row 0 is the lowest.
type nameplace struct {
	row    int
	anchor anchor
	there  bool // a name that is not needed may have found no place
}

const (
	rowHeight = 15.0
	nameGap   = 3.0 // between a leader and its name
	between   = 1.0 // names, beside what is allowed for wide letters
	rows      = 3   // that names which are not needed may take
)

// A strip is names in rows, so that none meets another or another's leader.
type strip struct {
	names  []name
	places []nameplace
	rows   int
	writer *writer
}

// place finds room for the names. Those that must have it may leave the lowest row
// to the others, if more of them find a place so.
func (w *writer) place(names []name) strip {
	low, high := w.placed(names, 0), w.placed(names, 1)
	if high.missing() < low.missing() {
		return high
	}
	return low
}

// placed finds room for the names that must have it, in that row or above, from
// right to left, so that each finds the leaders of its neighbours already there;
// then for as many of the others as fit.
func (w *writer) placed(names []name, lowest int) strip {
	t := strip{names: names, places: make([]nameplace, len(names)), writer: w, rows: rows}
	for i := len(names) - 1; i >= 0; i-- {
		if names[i].must {
			for row := lowest; !t.try(i, row); row++ {
				t.rows = max(t.rows, row+2)
			}
		}
	}
	for i, n := range names {
		if !n.must {
			for row := 0; row < rows && !t.try(i, row); row++ {
			}
		}
	}
	t.rows = 0
	for _, p := range t.places {
		if p.there {
			t.rows = max(t.rows, p.row+1)
		}
	}
	return t
}

// try puts the i-th name into the row: to the right of its leader or, if it may be
// left out, to the left.
func (t *strip) try(i, row int) bool {
	anchors := []anchor{begins, ends}
	if t.names[i].must {
		// A name to the left would bar the way to leaders that are yet to come.
		anchors = anchors[:1]
	}
	for _, a := range anchors {
		p := nameplace{row: row, anchor: a, there: true}
		left, right := t.reach(i, p)
		// Above all others there is room for sure: names come in order.
		if left >= leftEdge-nameGap && right <= rightEdge+nameGap && t.fits(i, p) || row > len(t.names) {
			t.places[i] = p
			return true
		}
	}
	return false
}

// reach is from where to where a name at p lies.
func (t *strip) reach(i int, p nameplace) (left, right float64) {
	n := t.names[i]
	width := t.writer.width(n.words, n.face) + nameGap
	if p.anchor == ends {
		return n.x - width, n.x
	}
	return n.x, n.x + width
}

func (t *strip) fits(i int, p nameplace) bool {
	left, right := t.reach(i, p)
	x := t.names[i].x
	for k, o := range t.places {
		if !o.there || k == i {
			continue
		}
		oLeft, oRight := t.reach(k, o)
		switch ox := t.names[k].x; {
		case o.row == p.row && left < oRight+between && oLeft < right+between:
			return false
		case o.row > p.row && crosses(ox, x, left, right) || o.row < p.row && crosses(x, ox, oLeft, oRight):
			return false
		}
	}
	return true
}

// crosses says whether a leader at x goes through a name that lies from left to
// right beside its own leader.
func crosses(x, own, left, right float64) bool {
	const hair = 1.5
	if own == left {
		left += nameGap
	} else {
		right -= nameGap
	}
	return x > left-hair && x < right+hair
}

func (t *strip) height() float64 { return rowHeight * float64(t.rows) }

// missing counts the names that found no place.
func (t *strip) missing() (n int) {
	for _, p := range t.places {
		if !p.there {
			n++
		}
	}
	return n
}

// text is the i-th name, in a strip whose lower end is at bottom, and the top of
// its leader.
func (t *strip) text(i int, bottom float64) (text, float64) {
	n, p := t.names[i], t.places[i]
	y := bottom - rowHeight*float64(p.row) - 4
	at := point{n.x + nameGap, y}
	if p.anchor == ends {
		at.x = n.x - nameGap
	}
	return text{at: at, words: n.words, face: n.face, ink: black, anchor: p.anchor}, y - 9
}
