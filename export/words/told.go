package words

import (
	"cmp"
	"fmt"
	"iter"
	"regexp"
	"slices"
	"strconv"
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
	if what, hint, ok := strings.Cut(english, "; hint: "); ok {
		return l.Told(what) + "; " + l.Told("hint: "+hint)
	}
	begins := []int{0} // of the sentence, and of what follows a colon in it: what it is of stands before
	for at := range max(len(english)-2, 0) {
		if english[at] == ':' && english[at+1] == ' ' {
			begins = append(begins, at+2)
		}
	}
	for _, p := range patterns() {
		if !strings.Contains(english, p.longest) {
			continue
		}
		for _, at := range begins {
			if v := p.english.FindStringSubmatch(english[at:]); v != nil {
				return l.of(english[:at]) + p.fill(v[1:])
			}
		}
	}
	if len(begins) > 1 {
		return l.of(english[:begins[1]]) + l.of(english[begins[1]:])
	}
	if bare, ok := strings.CutSuffix(english, ": "); ok {
		return l.of(bare) + ": "
	}
	return english
}

// of is in l what stands before or behind a colon; one word is the name of a file, a flag or a value, and stays.
func (l Language) of(english string) string {
	if !strings.Contains(english, " ") {
		return english
	}
	return l.Told(english)
}

// Fault is in l what went wrong, or what is said meanwhile, by rooms that know no language: each line of it is a sentence.
func (l Language) Fault(english string) string {
	lines := strings.Split(english, "\n")
	for i, line := range lines {
		bare := strings.TrimLeft(line, " ")
		lines[i] = line[:len(line)-len(bare)] + l.Told(bare)
	}
	return strings.Join(lines, "\n")
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
	if s != "" { // what is of no file alone
		s += ": "
	}
	return s + l.Told(what) + often
}

// times is how often a finding came, at its end.
var times = regexp.MustCompile(`^(.*) \((\d+) times, here first\)$`)

// pattern is a format of the tables of what rooms say, by which a sentence made from it is known.
type pattern struct {
	english *regexp.Regexp
	longest string   // of the texts between values
	fixed   int      // letters that are no values
	verbs   []string // of the values, in order
	german  string
}

// flagName and itsSubject stand for a %s that is told otherwise: not at all, and as what a sentence is of.
const flagName, itsSubject = "%v", "%:"

// verb is a value in a format.
var verb = regexp.MustCompile(`%[-+#.0-9]*[a-z%]`)

// spokenFor is the German for what rooms say that know no language.
func spokenFor() iter.Seq2[string, string] {
	return func(yield func(english, german string) bool) {
		for _, table := range tables[spokenFrom:] {
			for e, g := range table {
				if !yield(e, g) {
					return
				}
			}
		}
	}
}

// patterns are those of all that such rooms say, those with the most letters of their own first.
var patterns = sync.OnceValue(func() []pattern {
	var all []pattern
	for e, g := range spokenFor() {
		p := pattern{german: g}
		var b strings.Builder
		from := 0
		for _, part := range verb.Split(e, -1) {
			if len(part) > len(p.longest) {
				p.longest = part
			}
		}
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
				b.WriteString(`("(?:[^"\\]|\\.)*"|'(?:[^'\\]|\\.)+')`)
			default:
				b.WriteString(`(.*?)`)
			}
			switch {
			case strings.HasSuffix(e[:at[0]], "--"):
				v = flagName
			case v == "%s" && (at[0] == 0 && strings.HasPrefix(e[at[1]:], ":") || strings.HasSuffix(e[:at[0]], "did you mean ")):
				v = itsSubject
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
		case ':':
			return German.of(value)
		case 'q':
			if said, err := strconv.Unquote(value); err == nil && strings.Contains(said, " ") { // a rule
				if rule, ok := inGerman(said); ok {
					return strconv.Quote(rule)
				}
			}
			return value
		default:
			return value
		}
	})
}
