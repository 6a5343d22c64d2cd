package stricttoml

import (
	"fmt"
	"strconv"
	"strings"
)

// What a node is decides what may be added to it later in the file. By the TOML
// specification a table is opened by one header at most; what dotted keys or an
// inline table made is closed to headers, and what a header made to dotted keys.
type nodeKind int

const (
	value    nodeKind = iota // also a table or list written inline: closed
	implicit                 // a table named on the way to another: [a.b] makes a
	header                   // [a]
	dotted                   // a table made by a.b = 1
	tables                   // [[a]]: its items are its tables
)

// A node is a key of the file or an element of an array.
type node struct {
	kind  nodeKind
	line  int
	keys  map[string]*node
	items []*node
}

// under is the key or, counted from 0, the element of that name; nil if there is none.
func (n *node) under(key string) *node {
	if n.keys != nil {
		return n.keys[key]
	}
	if i, err := strconv.Atoi(key); err == nil && i >= 0 && i < len(n.items) {
		return n.items[i]
	}
	return nil
}

func (n *node) put(key string, child *node) *node {
	if n.keys == nil {
		n.keys = map[string]*node{}
	}
	n.keys[key] = child
	return child
}

// openTable is what [a.b.c] does: it gives the table, or says why not.
func (n *node) openTable(path []string, line int) (*node, *mistake) {
	n, bad := n.onTheWay(path, line)
	if bad != nil {
		return nil, bad
	}
	last := path[len(path)-1]
	switch there := n.keys[last]; {
	case there == nil:
		return n.put(last, &node{kind: header, line: line}), nil
	case there.kind == implicit:
		there.kind, there.line = header, line
		return there, nil
	default:
		return nil, twice(path, line, there.line)
	}
}

// openElement is what [[a.b.c]] does.
func (n *node) openElement(path []string, line int) (*node, *mistake) {
	n, bad := n.onTheWay(path, line)
	if bad != nil {
		return nil, bad
	}
	last := path[len(path)-1]
	list := n.keys[last]
	if list == nil {
		list = n.put(last, &node{kind: tables, line: line})
	}
	if list.kind != tables {
		return nil, twice(path, line, list.line)
	}
	element := &node{kind: header, line: line}
	list.items = append(list.items, element)
	return element, nil
}

// onTheWay is the table that holds the last key of a header's path.
func (n *node) onTheWay(path []string, line int) (*node, *mistake) {
	for i, key := range path[:len(path)-1] {
		there := n.keys[key]
		switch {
		case there == nil:
			there = n.put(key, &node{kind: implicit, line: line})
		case there.kind == value:
			return nil, twice(path[:i+1], line, there.line)
		case there.kind == tables:
			there = there.items[len(there.items)-1]
		}
		n = there
	}
	return n, nil
}

// set is what a.b.c = … does within the table n.
func (n *node) set(path []string, line int, v *node) *mistake {
	for i, key := range path[:len(path)-1] {
		there := n.keys[key]
		switch {
		case there == nil:
			there = n.put(key, &node{kind: dotted, line: line})
		case there.kind != dotted:
			return twice(path[:i+1], line, there.line)
		}
		n = there
	}
	last := path[len(path)-1]
	if there := n.keys[last]; there != nil {
		return twice(path, line, there.line)
	}
	v.line = line
	n.put(last, v)
	return nil
}

func twice(path []string, line, first int) *mistake {
	names := make([]string, len(path))
	for i, key := range path {
		names[i] = keyText(key)
	}
	return &mistake{line: line, problem: fmt.Sprintf("%s stands twice, first in line %d; keep one of them",
		strings.Join(names, "."), first)}
}
