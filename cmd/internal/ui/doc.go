// Package ui turns results into what a person or a script reads: tables, JSON,
// colour, drawings, progress. It is the only room that knows a terminal.
//
// The newcomer starts with screen.go, then table.go.
package ui
