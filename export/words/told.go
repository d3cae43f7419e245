package words

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"

	"balk/geo"
)

// Told is in l what a room says that knows no language: a sentence, or one made from a format, whose values of words may be
// told themselves. What has no German stays English.
func (l Language) Told(english string) string {
	if l != German {
		return english
	}
	if s, ok := inGerman(english); ok {
		return s
	}
	for _, p := range patterns() {
		if v := p.english.FindStringSubmatch(english); v != nil {
			return p.fill(v[1:])
		}
	}
	return english
}

// Finding is an oddity in the input as people read it.
func (l Language) Finding(f geo.Finding) string {
	s := f.File
	if f.Record > 0 {
		s += l.Say(", record %d", f.Record)
	}
	if f.At != nil {
		s += l.Word(", at ") + fmt.Sprintf("%.6f, %.6f", f.At[0], f.At[1]) // as in its file
	}
	what, often := f.What, ""
	if v := times.FindStringSubmatch(what); v != nil {
		what, often = v[1], strings.Replace(l.Word(" (%d times, here first)"), "%d", v[2], 1)
	}
	return s + ": " + l.Told(what) + often
}

// times is how often a finding came, at its end.
var times = regexp.MustCompile(`^(.*) \((\d+) times, here first\)$`)

// pattern is a format of the table of findings, by which a sentence made from it is known.
type pattern struct {
	english *regexp.Regexp
	fixed   int      // letters that are no values
	verbs   []string // of the values, in order
	german  string
}

// verb is a value in a format.
var verb = regexp.MustCompile(`%[-+#.0-9]*[a-z%]`)

// patterns are those of all findings, those with the most letters of their own first.
var patterns = sync.OnceValue(func() []pattern {
	var all []pattern
	for e, g := range findings {
		p := pattern{german: g}
		var b strings.Builder
		from := 0
		for _, at := range verb.FindAllStringIndex(e, -1) {
			v := e[at[0]:at[1]]
			b.WriteString(regexp.QuoteMeta(e[from:at[0]]))
			p.fixed += at[0] - from
			from = at[1]
			switch v[len(v)-1] {
			case '%':
				b.WriteString("%")
				continue
			case 'd':
				b.WriteString(`(-?\d+)`)
			case 'f', 'g', 'e':
				b.WriteString(`([-+]?[\d.]+(?:e[-+]?\d+)?)`)
			case 'q':
				b.WriteString(`("(?:[^"\\]|\\.)*")`)
			default:
				b.WriteString(`(.*?)`)
			}
			p.verbs = append(p.verbs, v)
		}
		b.WriteString(regexp.QuoteMeta(e[from:]))
		p.fixed += len(e) - from
		p.english = regexp.MustCompile(`(?s)^` + b.String() + `$`)
		all = append(all, p)
	}
	slices.SortFunc(all, func(a, b pattern) int { return cmp.Or(b.fixed-a.fixed, cmp.Compare(a.german, b.german)) })
	return all
})

// fill puts values into the German, in the order of the English.
func (p pattern) fill(values []string) string {
	n := -1
	return verb.ReplaceAllStringFunc(p.german, func(v string) string {
		if v == "%%" {
			return "%"
		}
		n++
		switch value := values[n]; p.verbs[n][len(p.verbs[n])-1] {
		case 'f', 'g', 'e':
			return German.Digits(value)
		case 's':
			return German.Told(value)
		default:
			return value
		}
	})
}
