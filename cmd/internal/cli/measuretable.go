package cli

import (
	"strings"
	"unicode/utf8"

	"echowright/cmd/internal/ui"
)

// printTable prints a table; on a terminal too narrow for it, as several below each
// other, each of which begins with the first column.
func (c *call) printTable(t ui.Table) {
	for i, part := range folded(t, c.out.Width) {
		if i > 0 {
			c.print("")
		}
		part.Print(c.out)
	}
}

// folded cuts a table into tables that are no wider than width, 0 being any width.
// A column that is too wide by itself stays as it is.
func folded(t ui.Table, width int) []ui.Table {
	const gap = 2
	var parts []ui.Table
	used := 0
	for k := 1; k < len(t.Titles); k++ {
		more := gap + columnWidth(t, k)
		if len(parts) == 0 || width > 0 && used+more > width {
			parts, used = append(parts, columnOf(t, 0)), columnWidth(t, 0)
		}
		last := &parts[len(parts)-1]
		beside := columnOf(t, k)
		last.Titles = append(last.Titles, beside.Titles...)
		for i := range last.Rows {
			last.Rows[i] = append(last.Rows[i], beside.Rows[i]...)
		}
		used += more
	}
	if len(parts) == 0 {
		return []ui.Table{t}
	}
	return parts
}

func columnOf(t ui.Table, k int) ui.Table {
	column := ui.Table{Titles: []string{t.Titles[k]}}
	for _, row := range t.Rows {
		cell := ""
		if k < len(row) {
			cell = row[k]
		}
		column.Rows = append(column.Rows, []string{cell})
	}
	return column
}

func columnWidth(t ui.Table, k int) int {
	widest := utf8.RuneCountInString(strings.TrimPrefix(t.Titles[k], ">"))
	for _, row := range t.Rows {
		if k < len(row) {
			widest = max(widest, utf8.RuneCountInString(row[k]))
		}
	}
	return widest
}
