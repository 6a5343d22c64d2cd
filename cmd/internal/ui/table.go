package ui

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// A Table is printed with its columns lined up. A title that begins with ">"
// stands over numbers, which are set to the right.
type Table struct {
	Titles []string
	Rows   [][]string
}

// Add appends a row; what is not a string is printed as fmt does.
func (t *Table) Add(cells ...any) {
	row := make([]string, len(cells))
	for i, c := range cells {
		row[i] = Line(fmt.Sprint(c))
	}
	t.Rows = append(t.Rows, row)
}

// gap stands between columns.
const gap = "  "

// Print writes the table. The last column is not padded.
func (t *Table) Print(s Screen) {
	titles, right := t.heads()
	widths := t.widths(titles)
	fmt.Fprintln(s, s.Tinted(lined(titles, widths, right), Bold))
	for _, row := range t.Rows {
		fmt.Fprintln(s, lined(row, widths, right))
	}
}

func (t *Table) heads() (titles []string, right []bool) {
	titles, right = make([]string, len(t.Titles)), make([]bool, len(t.Titles))
	for i, title := range t.Titles {
		titles[i], right[i] = strings.CutPrefix(title, ">")
	}
	return titles, right
}

func (t *Table) widths(titles []string) []int {
	widths := make([]int, len(titles))
	for _, row := range append([][]string{titles}, t.Rows...) {
		for i := range min(len(row), len(widths)) {
			widths[i] = max(widths[i], utf8.RuneCountInString(row[i]))
		}
	}
	return widths
}

func lined(row []string, widths []int, right []bool) string {
	var out strings.Builder
	for i := range min(len(row), len(widths)) {
		if i > 0 {
			out.WriteString(gap)
		}
		pad := strings.Repeat(" ", widths[i]-utf8.RuneCountInString(row[i]))
		if right[i] {
			out.WriteString(pad + row[i])
		} else {
			out.WriteString(row[i] + pad)
		}
	}
	return strings.TrimRight(out.String(), " ")
}
