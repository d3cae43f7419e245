package job

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"balk/geo"
)

// byFieldName begins what means a field by its name, also where that could be a number.
const byFieldName = "name="

// howToChoose is how a field is chosen, in words.
const howToChoose = "--field NUMBER or --field name=NAME"

// field reads a file of boundaries and chooses one. What is found on the way goes behind findings, on an error too.
func (c *Call) field(ctx context.Context, boundary, want string, how Reading, findings []geo.Finding) (geo.Field, []geo.Finding, error) {
	fields, more, err := c.fields(ctx, boundary, how)
	if findings = append(findings, more...); err != nil {
		return geo.Field{}, findings, sorted(err)
	}
	if err := c.met(how); err != nil {
		return geo.Field{}, findings, err
	}
	f, err := choose(fields, want, boundary)
	if err == nil {
		err = how.credible(f)
	}
	return f, findings, err
}

// largest is the size beyond which a field is more likely a boundary with a digit wrong, m²: 100,000 ha, more than any field has
// (common practice, no source).
const largest = 1e9

// credible refuses a field that is larger than any, unless it is said to be.
func (r Reading) credible(f geo.Field) error {
	size := f.Rough()
	if size <= largest || r.Large {
		return nil
	}
	box, hint := f.Boundary.Bound(), "is a digit of a corner wrong?"
	if box.Max[0]-box.Min[0] > 180 {
		hint = "does it lie on both sides of 180°? Then each side is a part of its own (RFC 7946, 3.1.9)"
	}
	return fmt.Errorf("%s: field %d is about %.0f ha large, from %g, %g to %g, %g: more than %.0f ha are taken with --large only\nhint: %s",
		f.Source, f.Number, size/1e4, box.Min[0], box.Min[1], box.Max[0], box.Max[1], largest/1e4, hint)
}

// choose finds the field meant by want among those of a file: a bare number is the number
// that lists show, name=… a name; any other text is a name, too. Names are looked for as
// they are, then whatever their case. Without want it is the only one. What more
// than one field can be meant by is refused.
func choose(fields []geo.Field, want, file string) (geo.Field, error) {
	if want == "" && len(fields) == 1 {
		return fields[0], nil
	}
	if want == "" {
		return geo.Field{}, wrong("%s holds %d fields, and none is chosen (%s):\n%s", file, len(fields), howToChoose, list(fields, nil))
	}
	name, named := strings.CutPrefix(want, byFieldName)
	if !named && digits(want) {
		n, err := strconv.Atoi(want)
		for _, f := range fields {
			if err == nil && f.Number == n {
				return f, nil
			}
		}
		hint := ""
		if slices.ContainsFunc(fields, func(f geo.Field) bool { return f.Name == want }) {
			hint = fmt.Sprintf("\nhint: a number is one of the list; the field of that name is --field %s%s", byFieldName, want)
		}
		return geo.Field{}, wrong("%s holds no field number %s; it holds:\n%s%s", file, want, list(fields, nil), hint)
	}
	for _, same := range []func(a, b string) bool{func(a, b string) bool { return a == b }, strings.EqualFold} {
		var found []geo.Field
		for _, f := range fields {
			if same(f.Name, name) {
				found = append(found, f)
			}
		}
		if len(found) == 1 {
			return found[0], nil
		}
		if len(found) > 1 {
			return geo.Field{}, wrong("%s holds %d fields named %q; choose one by its number:\n%s", file, len(found), name, list(found, nil))
		}
	}
	return geo.Field{}, wrong("%s holds no field named %q; it holds:\n%s", file, name, list(fields, nil))
}

// digits says whether s is nothing but decimal digits.
func digits(s string) bool { return strings.Trim(s, "0123456789") == "" }

// mostListed is how many fields are listed: a file of a whole district has thousands.
const mostListed = 10

// list has a line per field; fixes, if not nil, says how many of a log lie on each. Of many it has the first, those on which
// some lie before others.
func list(fields []geo.Field, fixes []int) string {
	var b strings.Builder
	var shown []int
	for _, with := range []bool{true, false} {
		for i := range fields {
			if (fixes == nil || fixes[i] > 0) == with && len(shown) < mostListed {
				shown = append(shown, i)
			}
		}
	}
	slices.Sort(shown)
	for k, i := range shown {
		f := fields[i]
		if k > 0 {
			b.WriteByte('\n')
		}
		fmt.Fprintf(&b, "  %d  %s", f.Number, cmp.Or(f.Name, nameless))
		if fixes != nil {
			fmt.Fprintf(&b, "  (%d fixes)", fixes[i])
		}
	}
	if more := len(fields) - len(shown); more > 0 {
		fmt.Fprintf(&b, "\n  and %d more", more)
	}
	return b.String()
}
