package chart

import (
	"fmt"
	"html/template"
	"strings"
	"unicode/utf8"
)

// Text is the chart in columns for a terminal or a plain file.
func (c Chart) Text() string {
	var b strings.Builder
	fmt.Fprintln(&b, c.Title)
	if c.Notes != "" {
		fmt.Fprintln(&b, c.Notes)
	}
	fmt.Fprintln(&b)
	rows := [][]string{}
	for _, f := range c.Facts {
		rows = append(rows, []string{f.Name, f.Says})
	}
	lineUp(&b, rows)
	fmt.Fprintln(&b)
	rows = [][]string{columns}
	for _, r := range c.Rows {
		rows = append(rows, r.cells())
	}
	lineUp(&b, rows)
	return b.String()
}

// lineUp prints rows with their columns under one another; the last is not padded.
func lineUp(b *strings.Builder, rows [][]string) {
	var widths []int
	for _, row := range rows {
		for i, cell := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	for _, row := range rows {
		var line strings.Builder
		for i, cell := range row {
			line.WriteString(cell)
			line.WriteString(strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell)+2))
		}
		fmt.Fprintln(b, strings.TrimRight(line.String(), " "))
	}
}

// Markdown is the chart as tables in CommonMark with the pipe tables of GitHub.
func (c Chart) Markdown() string {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n\n", marked(c.Title))
	if c.Notes != "" {
		fmt.Fprintf(&b, "%s\n\n", marked(c.Notes))
	}
	for _, f := range c.Facts {
		fmt.Fprintf(&b, "- %s: %s\n", marked(f.Name), marked(f.Says))
	}
	fmt.Fprintf(&b, "\n| %s |\n|%s\n", strings.Join(columns, " | "), strings.Repeat(" --- |", len(columns)))
	for _, r := range c.Rows {
		cells := r.cells()
		for i := range cells {
			cells[i] = marked(cells[i])
		}
		fmt.Fprintf(&b, "| %s |\n", strings.Join(cells, " | "))
	}
	return b.String()
}

// marked is text that Markdown leaves as it is.
var marked = strings.NewReplacer(`\`, `\\`, "|", `\|`, "*", `\*`, "_", `\_`, "`", "\\`", "<", "&lt;", "\n", " ").Replace

var page = template.Must(template.New("chart").Parse(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>{{.Title}}</title>
<style>
:root { color-scheme: light dark; }
body { font: 15px/1.45 system-ui, sans-serif; max-width: 70rem; margin: 2rem auto; padding: 0 1rem; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .25rem .6rem; border-bottom: 1px solid #8886; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .2rem 1rem; }
dd { margin: 0; }
@media print { body { margin: 0; font-size: 10pt; } tr { break-inside: avoid; } }
</style>
</head>
<body>
<h1>{{.Title}}</h1>
{{with .Notes}}<p>{{.}}</p>
{{end}}<dl>
{{range .Facts}}<dt>{{.Name}}</dt><dd>{{.Says}}</dd>
{{end}}</dl>
<table>
<thead><tr><th>parameter</th><th>set by</th><th>codes</th><th>meaning</th><th>remarks</th></tr></thead>
<tbody>
{{range .Rows}}<tr><td>{{.Parameter}}</td><td>{{.SetBy}}</td><td>{{.Codes}}</td><td>{{.Meaning}}</td><td>{{.Remarks}}</td></tr>
{{end}}</tbody>
</table>
</body>
</html>
`))

// HTML is the chart as one page that needs nothing else. The error is the
// template's own.
func (c Chart) HTML() (string, error) {
	var b strings.Builder
	if err := page.Execute(&b, c); err != nil {
		return "", fmt.Errorf("chart of %s: %w", c.Title, err)
	}
	return b.String(), nil
}
