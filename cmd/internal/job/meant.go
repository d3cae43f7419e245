package job

import (
	"cmp"
	"reflect"
	"slices"
	"strings"
)

// Meant is the name that is nearest to what was typed, or the only one that begins so, as a question; "" where there is none.
func Meant(typed string, names []string) string {
	if begin := slices.DeleteFunc(slices.Clone(names), func(n string) bool { return !strings.HasPrefix(n, typed) }); len(begin) == 1 {
		return "; did you mean " + begin[0] + "?"
	}
	most := 1 + len(typed)/5 // letters
	near := slices.MinFunc(append(names, ""), func(a, b string) int { return cmp.Compare(slips(typed, a), slips(typed, b)) })
	if near == "" || slips(typed, near) > most {
		return ""
	}
	return "; did you mean " + near + "?"
}

// slips is how many letters lead from one word to another: left out, typed beside, too many, or two of them swapped.
func slips(a, b string) int {
	s, t := []rune(a), []rune(b)
	d := make([][]int, len(s)+1)
	for i := range d {
		d[i] = make([]int, len(t)+1)
		for k := range d[i] {
			switch {
			case i == 0 || k == 0:
				d[i][k] = i + k
			case s[i-1] == t[k-1]:
				d[i][k] = d[i-1][k-1]
			default:
				d[i][k] = 1 + min(d[i-1][k], d[i][k-1], d[i-1][k-1])
			}
			if i > 1 && k > 1 && s[i-1] == t[k-2] && s[i-2] == t[k-1] {
				d[i][k] = min(d[i][k], d[i-2][k-2]+1)
			}
		}
	}
	return d[len(s)][len(t)]
}

// namesIn are the JSON names of what is decoded into a value, of groups in it too, each once.
func namesIn(t reflect.Type) (names []string) {
	switch t.Kind() {
	case reflect.Pointer, reflect.Slice, reflect.Array, reflect.Map:
		return namesIn(t.Elem())
	case reflect.Struct:
		for f := range t.Fields() {
			name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			if name != "" && name != "-" {
				names = append(names, name)
			}
			if f.IsExported() && name != "-" {
				names = append(names, namesIn(f.Type)...)
			}
		}
	}
	slices.Sort(names)
	return slices.Compact(names)
}
