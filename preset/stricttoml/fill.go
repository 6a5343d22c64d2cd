package stricttoml

import (
	"encoding"
	"fmt"
	"math"
	"reflect"
	"strings"
	"time"

	"github.com/BurntSushi/toml"

	"echowright/preset/nearest"
)

// A filler puts the parsed tree into Go values and collects what does not fit.
type filler struct {
	doc   *Document
	found []mistake
}

func (d *Document) fill(v any, tree map[string]any) error {
	f := filler{doc: d}
	f.value(reflect.ValueOf(v).Elem(), tree, place{})
	return d.refuse(f.found)
}

func (f *filler) wrong(p place, format string, args ...any) {
	f.found = append(f.found, mistake{line: f.doc.Line(p.path), problem: p.subject() + " " + fmt.Sprintf(format, args...)})
}

// wants reports a value of another type than the one that has a place here.
func (f *filler) wants(p place, got any, want string) {
	f.wrong(p, "is %s; write %s", shown(got), want)
}

var timeType = reflect.TypeFor[time.Time]()

func (f *filler) value(v reflect.Value, tree any, p place) {
	if v.Kind() == reflect.Pointer {
		v.Set(reflect.New(v.Type().Elem()))
		v = v.Elem()
	}
	if v.Type() != timeType && f.byItself(v, tree, p) {
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		f.structure(v, tree, p)
	case reflect.Map:
		f.table(v, tree, p)
	case reflect.Slice:
		f.list(v, tree, p)
	case reflect.Interface:
		f.anything(v, tree, p)
	default:
		f.plain(v, tree, p)
	}
}

// byItself lets a type read itself from a text or from the tree, if it can.
func (f *filler) byItself(v reflect.Value, tree any, p place) bool {
	switch reader := v.Addr().Interface().(type) {
	case toml.Unmarshaler:
		if f.finite(tree, p) {
			if err := reader.UnmarshalTOML(tree); err != nil {
				f.wrong(p, "%v", err)
			}
		}
	case encoding.TextUnmarshaler:
		text, ok := tree.(string)
		if !ok {
			f.wants(p, tree, "a text in quotes")
		} else if err := reader.UnmarshalText([]byte(text)); err != nil {
			f.wrong(p, "%v", err)
		}
	default:
		return false
	}
	return true
}

func (f *filler) plain(v reflect.Value, tree any, p place) {
	switch {
	case v.Kind() == reflect.String:
		if s, ok := tree.(string); ok {
			v.SetString(s)
		} else {
			f.wants(p, tree, "a text in quotes")
		}
	case v.Kind() == reflect.Bool:
		if b, ok := tree.(bool); ok {
			v.SetBool(b)
		} else {
			f.wants(p, tree, "true or false")
		}
	case v.CanFloat():
		f.number(v, tree, p)
	case v.CanInt() || v.CanUint():
		f.whole(v, tree, p)
	default:
		f.wrong(p, "has no place in this program's %s; tell its makers", v.Type())
	}
}

// number takes whole numbers too, as far as a float64 holds each of them.
func (f *filler) number(v reflect.Value, tree any, p place) {
	const exact = 1 << 53
	switch n := tree.(type) {
	case int64:
		if n < -exact || n > exact {
			f.wrong(p, "is %d; write a number nearer to 0", n)
			return
		}
		v.SetFloat(float64(n))
	case float64:
		if f.finite(n, p) {
			v.SetFloat(n)
		}
	default:
		f.wants(p, tree, "a number")
	}
}

func (f *filler) whole(v reflect.Value, tree any, p place) {
	n, ok := tree.(int64)
	switch {
	case !ok:
		f.wants(p, tree, "a whole number")
	case v.CanInt() && !v.OverflowInt(n):
		v.SetInt(n)
	case v.CanUint() && n >= 0 && !v.OverflowUint(uint64(n)):
		v.SetUint(uint64(n))
	default:
		bits := v.Type().Bits()
		if v.CanInt() {
			f.wrong(p, "is %d; write a whole number from %d to %d", n, int64(-1)<<(bits-1), int64(1)<<(bits-1)-1)
			return
		}
		f.wrong(p, "is %d; write a whole number from 0 to %d", n, uint64(math.MaxUint64)>>(64-bits))
	}
}

// structure fills a struct from a table.
func (f *filler) structure(v reflect.Value, tree any, p place) {
	if v.Type() == timeType {
		if t, ok := tree.(time.Time); ok {
			v.Set(reflect.ValueOf(t))
		} else {
			f.wants(p, tree, "a date such as 2026-03-14, without quotes")
		}
		return
	}
	table, ok := tree.(map[string]any)
	if !ok {
		f.wants(p, tree, "a table")
		return
	}
	fields, known := fieldsOf(v)
	for key, inner := range table {
		if field, ok := fields[key]; ok {
			f.value(field, inner, p.in(key))
			continue
		}
		f.unknown(p.in(key), known)
	}
}

func (f *filler) unknown(p place, known []string) {
	next := "known here: " + strings.Join(known, ", ")
	if name := nearest.Name(p.key, known); name != "" {
		next = fmt.Sprintf("did you mean %q?", name)
	}
	f.found = append(f.found, mistake{line: f.doc.Line(p.path), problem: "unknown key " + p.subject() + "; " + next})
}

// fieldsOf lists the fields of a struct by their toml tags, those of embedded
// structs with them, and the names in the order of the struct.
func fieldsOf(v reflect.Value) (map[string]reflect.Value, []string) {
	fields, known := map[string]reflect.Value{}, []string{}
	for _, field := range reflect.VisibleFields(v.Type()) {
		name, _, _ := strings.Cut(field.Tag.Get("toml"), ",")
		if name == "" || name == "-" || !field.IsExported() {
			continue
		}
		fields[name] = v.FieldByIndex(field.Index)
		known = append(known, name)
	}
	return fields, known
}

// table fills a map, whose keys the file is free to choose.
func (f *filler) table(v reflect.Value, tree any, p place) {
	table, ok := tree.(map[string]any)
	if !ok {
		f.wants(p, tree, "a table")
		return
	}
	v.Set(reflect.MakeMapWithSize(v.Type(), len(table)))
	for key, inner := range table {
		element := reflect.New(v.Type().Elem()).Elem()
		f.value(element, inner, p.in(key))
		v.SetMapIndex(reflect.ValueOf(key).Convert(v.Type().Key()), element)
	}
}

func (f *filler) list(v reflect.Value, tree any, p place) {
	items, ok := elements(tree)
	if !ok {
		want := "a list in [ ]"
		if _, isTable := tree.(map[string]any); isTable {
			want = "each of them under a header [[" + p.names + "]]"
		}
		f.wants(p, tree, want)
		return
	}
	v.Set(reflect.MakeSlice(v.Type(), len(items), len(items)))
	for i, inner := range items {
		f.value(v.Index(i), inner, p.at(i))
	}
}

func elements(tree any) ([]any, bool) {
	switch list := tree.(type) {
	case []any:
		return list, true
	case []map[string]any:
		all := make([]any, len(list))
		for i, table := range list {
			all[i] = table
		}
		return all, true
	}
	return nil, false
}

// anything takes what comes, as the parser gives it.
func (f *filler) anything(v reflect.Value, tree any, p place) {
	if f.finite(tree, p) {
		v.Set(reflect.ValueOf(tree))
	}
}

// finite refuses nan and inf wherever they stand in tree.
func (f *filler) finite(tree any, p place) bool {
	before := len(f.found)
	switch v := tree.(type) {
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			f.wrong(p, "is %s; write a finite number", strings.ToLower(fmt.Sprint(v)))
		}
	case map[string]any:
		for key, inner := range v {
			f.finite(inner, p.in(key))
		}
	default:
		items, _ := elements(tree)
		for i, inner := range items {
			f.finite(inner, p.at(i))
		}
	}
	return len(f.found) == before
}
