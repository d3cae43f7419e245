package job

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"

	"balk/geo"
)

// choose finds the field meant by want among those of a file: by name, then by
// name whatever its case, then by number. Without want it is the only one.
func choose(fields []geo.Field, want, file string) (geo.Field, error) {
	if want == "" && len(fields) == 1 {
		return fields[0], nil
	}
	if want == "" {
		return geo.Field{}, wrong("%s holds %d fields, and none is chosen (--field NAME or NUMBER):\n%s", file, len(fields), list(fields, nil))
	}
	for _, same := range []func(geo.Field) bool{
		func(f geo.Field) bool { return f.Name == want },
		func(f geo.Field) bool { return strings.EqualFold(f.Name, want) },
		func(f geo.Field) bool { n, err := strconv.Atoi(want); return err == nil && f.Number == n },
	} {
		var found []geo.Field
		for _, f := range fields {
			if same(f) {
				found = append(found, f)
			}
		}
		if len(found) == 1 {
			return found[0], nil
		}
		if len(found) > 1 {
			return geo.Field{}, wrong("%s holds %d fields named %q; choose one by its number:\n%s", file, len(found), want, list(found, nil))
		}
	}
	return geo.Field{}, wrong("%s holds no field %q; it holds:\n%s", file, want, list(fields, nil))
}

// list has a line per field; fixes, if not nil, says how many of a log lie on each.
func list(fields []geo.Field, fixes []int) string {
	var b strings.Builder
	for i, f := range fields {
		if i > 0 {
			b.WriteByte('\n')
		}
		fmt.Fprintf(&b, "  %d  %s", f.Number, cmp.Or(f.Name, nameless))
		if fixes != nil {
			fmt.Fprintf(&b, "  (%d fixes)", fixes[i])
		}
	}
	return b.String()
}
