package cli

import (
	"fmt"
	"strings"

	"balk/export/words"
	"balk/geo"
)

// mostOfAKind is how many findings of one kind are said one by one; of more only the first is, and how many there are.
const mostOfAKind = 3

// summed is what was found, in words. Findings that differ in nothing but their file, record, place and numbers are of one kind.
func summed(l words.Language, findings []geo.Finding) []string {
	type group struct {
		count int
		files map[string]bool
	}
	kinds := map[string]*group{}
	key := func(f geo.Finding) string { return fmt.Sprint(f.Lost) + withoutNumbers(f.What) }
	for _, f := range findings {
		g := kinds[key(f)]
		if g == nil {
			g = &group{files: map[string]bool{}}
			kinds[key(f)] = g
		}
		g.count++
		g.files[f.File] = true
	}
	var out []string
	done := map[string]bool{}
	for _, f := range findings {
		k := key(f)
		switch g := kinds[k]; {
		case g.count <= mostOfAKind:
			out = append(out, l.Finding(f))
		case !done[k]:
			done[k] = true
			s := l.Finding(f) + "\n" + l.Say("and %d more of this kind", g.count-1)
			if len(g.files) > 1 {
				s += l.Say(", in %d files in all", len(g.files))
			}
			out = append(out, s+l.Word(" (--json lists them)"))
		}
	}
	return out
}

// withoutNumbers is a text with one mark for each number, whatever its digits, and for each text in quotation marks.
func withoutNumbers(s string) string {
	var b strings.Builder
	number, quoted := false, false
	for _, r := range s {
		if r == '"' {
			quoted = !quoted
		}
		digit := r >= '0' && r <= '9' || number && (r == '.' || r == ',')
		if quoted || digit && number {
			continue
		}
		if number = digit; digit {
			r = '#'
		}
		b.WriteRune(r)
	}
	return b.String()
}
