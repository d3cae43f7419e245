package paper

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"
)

// Part is what something on a leaf is to those to whom a PDF is read: a structure type of ISO 32000-1, 14.8.4.
type Part string

// The parts of a leaf. Text outside them is a paragraph of its own, and lines and grounds outside figures are not read.
const (
	Heading    Part = "H1"
	Subheading Part = "H2"
	Paragraph  Part = "P"
	Figure     Part = "Figure" // with all that is written on it; needs words for those who do not see it
	Row        Part = "TR"     // of a table, which is all rows that follow each other
	HeadCell   Part = "TH"
	Cell       Part = "TD"
)

// As draws a part; instead are the words that are read in place of a figure.
func (l *Leaf) As(p Part, instead string, draw func()) {
	l.drawn = append(l.drawn, func(b back) { b.open(p, instead) })
	draw()
	l.drawn = append(l.drawn, func(b back) { b.close() })
}

// The structure of a PDF: the tree of its elements, each with its marked content (ISO 32000-1, 14.7). Element 0 is the document, below it one
// section per page.
type structure struct {
	elements []element
	marks    [][]int // by page, by number of the marked content: the element
	stack    []int   // elements that are open, the innermost last
	marked   int     // element whose content is being marked, or artifact, or nothing
}

type element struct {
	kind    string
	instead string
	above   int
	page    int
	kids    []kid
	said    []string // its lines of text, in the order in which they are read
	drawn   bool     // some of them is no text on the page
}

// kid is an element below another one, or its marked content.
type kid struct {
	number  int
	content bool
}

const (
	nothing  = -1
	artifact = -2
)

func (s *structure) add(kind, instead string) int {
	n, page := len(s.elements), len(s.marks)-1
	if n == 0 {
		s.elements = append(s.elements, element{kind: kind, above: nothing})
		return n
	}
	above := 0
	if len(s.stack) > 0 {
		above = s.stack[len(s.stack)-1]
	}
	s.elements = append(s.elements, element{kind: kind, instead: instead, above: above, page: page})
	s.elements[above].kids = append(s.elements[above].kids, kid{number: n})
	return n
}

// turn begins a page.
func (s *structure) turn() {
	if len(s.elements) == 0 {
		s.add("Document", "")
	}
	s.marks, s.stack, s.marked = append(s.marks, nil), nil, nothing
	s.stack = []int{s.add("Sect", "")}
}

// last is the innermost open element, and its kind.
func (s *structure) last() (int, string) {
	n := s.stack[len(s.stack)-1]
	return n, s.elements[n].kind
}

// container is one that holds elements, and no text of its own.
func container(kind string) bool { return kind == "Sect" || kind == "Table" || kind == "TR" }

// open begins a part on the page.
func (b *document) open(p Part, instead string) {
	b.mark(nothing)
	s := b.tree
	if n, kind := s.last(); p == Row && kind != "Table" {
		table := nothing
		if kids := s.elements[n].kids; len(kids) > 0 {
			if k := kids[len(kids)-1]; !k.content && s.elements[k.number].kind == "Table" {
				table = k.number
			}
		}
		if table == nothing {
			table = s.add("Table", "")
		}
		s.stack = append(s.stack, table)
		s.stack[len(s.stack)-1] = s.add(string(p), instead) // in its place: the row closes its table too
		return
	}
	s.stack = append(s.stack, s.add(string(p), instead))
}

func (b *document) close() {
	b.mark(nothing)
	b.tree.stack = b.tree.stack[:len(b.tree.stack)-1]
}

// mark says whose content follows on the page.
func (b *document) mark(whose int) {
	s := b.tree
	if s.marked == whose {
		return
	}
	if s.marked != nothing {
		b.buf = append(b.buf, "EMC\n"...)
	}
	s.marked = whose
	switch page := len(s.marks) - 1; {
	case whose == nothing:
	case whose == artifact:
		b.buf = append(b.buf, "/Artifact BMC\n"...)
	default:
		e := &s.elements[whose]
		b.buf = fmt.Appendf(b.buf, "/%s <</MCID %d>> BDC\n", e.kind, len(s.marks[page]))
		e.kids = append(e.kids, kid{len(s.marks[page]), true})
		s.marks[page] = append(s.marks[page], whose)
	}
	b.flush()
}

// markShape marks what follows as part of a figure, or as nothing that is read.
func (b *document) markShape() {
	if n, kind := b.tree.last(); kind == string(Figure) {
		b.mark(n)
	} else {
		b.mark(artifact)
	}
}

// markText marks what follows as text of the part that is open, or as a paragraph of its own.
func (b *document) markText(w words) {
	n, kind := b.tree.last()
	if container(kind) {
		b.mark(nothing)
		n = b.tree.add(string(Paragraph), "")
	}
	b.mark(n)
	e := &b.tree.elements[n]
	e.said = append(e.said, w.said)
	e.drawn = e.drawn || slices.ContainsFunc(w.line, func(p piece) bool { return !p.written })
}

// tagged appends the structure to a PDF of the library, as an incremental update (ISO 32000-1, 7.5.6), since the library has none: pages and the
// catalog once more, each with its entries, the elements, and which of them marked content belongs to.
func (s *structure) tagged(b []byte) ([]byte, error) {
	broken := func(what string) ([]byte, error) {
		return nil, fmt.Errorf("writing the PDF: %s not found where its structure is to be added", what)
	}
	after := func(word string, from int) (n, end int) { // the number behind the last such word from there on, and where it ends; -1 = none
		at := bytes.LastIndex(b[from:], []byte(word))
		if at < 0 {
			return -1, 0
		}
		at += from + len(word)
		for end = at; end < len(b) && '0' <= b[end] && b[end] <= '9'; end++ {
		}
		n, err := strconv.Atoi(string(b[at:end]))
		if err != nil {
			return -1, 0
		}
		return n, end
	}
	at, _ := after("startxref\n", 0)
	if at < 0 || at >= len(b) || !bytes.HasPrefix(b[at:], []byte("xref\n0 ")) {
		return broken("its table")
	}
	size, end := after("xref\n0 ", at)
	root, _ := after("/Root ", at)
	if size < 0 || root < 0 {
		return broken("its root")
	}
	info := ""
	if i := bytes.LastIndex(b, []byte("/Info ")); i > at {
		line, _, _ := bytes.Cut(b[i:], []byte("\n"))
		info = string(line)
	}
	entries := b[min(end+1, len(b)):]
	object := func(n int) ([]byte, bool) { // what stands between its braces
		offset, err := strconv.Atoi(string(entries[20*n : 20*n+10]))
		if err != nil || offset >= at {
			return nil, false
		}
		body, ok := bytes.CutPrefix(b[offset:at], fmt.Appendf(nil, "%d 0 obj\n<<", n))
		end := bytes.Index(body, []byte("endobj"))
		if !ok || end < 0 {
			return nil, false
		}
		end = bytes.LastIndex(body[:end], []byte(">>"))
		return body[:max(end, 0)], end > 0
	}
	if len(entries) < 20*size || root >= size {
		return broken("its table")
	}

	out := slices.Clone(b)
	type place struct{ number, offset int }
	var places []place
	put := func(n int, body string) {
		places = append(places, place{n, len(out)})
		out = fmt.Appendf(out, "%d 0 obj\n<<%s>>\nendobj\n", n, body)
	}
	first := size // of the new objects: the root of the structure, what belongs to whom, and the elements
	tree, owners, element := first, first+1, first+2
	var pages []int
	for n := 1; n < size; n++ {
		if body, ok := object(n); ok && bytes.HasPrefix(body, []byte("/Type /Page\n")) {
			put(n, fmt.Sprintf("%s/StructParents %d\n/Tabs /S\n", body, len(pages)))
			pages = append(pages, n)
		}
	}
	if len(pages) != len(s.marks) {
		return broken(fmt.Sprintf("%d of %d pages", len(s.marks)-len(pages), len(s.marks)))
	}
	body, ok := object(root)
	if !ok {
		return broken("its catalog")
	}
	put(root, fmt.Sprintf("%s/Version /1.7\n/MarkInfo <</Marked true>>\n/StructTreeRoot %d 0 R\n/ViewerPreferences <</DisplayDocTitle true>>\n", body, tree))
	put(tree, fmt.Sprintf("/Type /StructTreeRoot /K [%d 0 R] /ParentTree %d 0 R /ParentTreeNextKey %d", element, owners, len(pages)))
	var list strings.Builder
	for page, marks := range s.marks {
		fmt.Fprintf(&list, "%d [", page)
		for _, m := range marks {
			fmt.Fprintf(&list, "%d 0 R ", element+m)
		}
		list.WriteString("]\n")
	}
	put(owners, "/Nums ["+list.String()+"]")
	for n, e := range s.elements {
		var say strings.Builder
		above := tree
		if e.above != nothing {
			above = element + e.above
			fmt.Fprintf(&say, "/Pg %d 0 R ", pages[e.page])
		}
		fmt.Fprintf(&say, "/Type /StructElem /S /%s /P %d 0 R /K [", e.kind, above)
		for _, k := range e.kids {
			if k.content {
				fmt.Fprintf(&say, "%d ", k.number)
			} else {
				fmt.Fprintf(&say, "%d 0 R ", element+k.number)
			}
		}
		say.WriteString("]")
		text := func(name, s string) {
			fmt.Fprintf(&say, " /%s <FEFF", name)
			for _, u := range utf16.Encode([]rune(s)) {
				fmt.Fprintf(&say, "%04X", u)
			}
			say.WriteString(">")
		}
		if e.instead != "" {
			text("Alt", e.instead)
		} else if len(e.said) > 1 || e.drawn { // the page has no gap between lines, and drawn letters in the order in which they stand
			text("ActualText", strings.Join(e.said, " "))
		}
		put(element+n, say.String())
	}
	next := len(out)
	out = append(out, "xref\n"...)
	for _, p := range places { // one section each: their numbers need not follow each other
		out = fmt.Appendf(out, "%d 1\n%010d 00000 n \n", p.number, p.offset)
	}
	out = fmt.Appendf(out, "trailer\n<<\n/Size %d\n/Root %d 0 R\n%s\n/Prev %d\n>>\nstartxref\n%d\n%%%%EOF\n", element+len(s.elements), root, info, at, next)
	return out, nil
}
