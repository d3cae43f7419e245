package crs

import (
	"fmt"
	"strconv"
	"strings"
)

const (
	// wktLongest is the longest text read as WKT, in bytes: the longest in use
	// are a hundredth of it.
	wktLongest = 1 << 18
	// wktDeepest is how deep brackets may nest; COMPD_CS with TOWGS84 needs 6.
	wktDeepest = 32
)

// node is one KEYWORD[...] of WKT1.
type node struct {
	key   string // in capitals
	texts []string
	nums  []float64
	words []string // bare words, such as EAST
	kids  []*node
}

// kid is the first node of a keyword inside n, or nil.
func (n *node) kid(key string) *node {
	for _, k := range n.kids {
		if k.key == key {
			return k
		}
	}
	return nil
}

// name is the first text in n.
func (n *node) name() string {
	if len(n.texts) == 0 {
		return ""
	}
	return n.texts[0]
}

// only refuses nodes inside n whose keyword is not listed: what is not
// understood must not be passed over. many lists those that may stand more than
// once.
func (n *node) only(once, many string) error {
	seen := map[string]bool{}
	for _, k := range n.kids {
		switch {
		case has(many, k.key):
		case !has(once, k.key):
			return &UnknownError{Name: k.key, What: "part of " + n.key}
		case seen[k.key]:
			return fmt.Errorf("projection text: %s[%q] has %s twice", n.key, n.name(), k.key)
		}
		seen[k.key] = true
	}
	return nil
}

// has says whether a list of words set apart by spaces has the word.
func has(list, word string) bool {
	for w := range strings.FieldsSeq(list) {
		if w == word {
			return true
		}
	}
	return false
}

type wktReader struct {
	text string
	at   int
}

// parseWKT reads one node or several set apart by commas, up to the end of the
// text. It accepts [] and (), white space, and a byte order mark.
func parseWKT(text string) ([]*node, error) {
	if len(text) > wktLongest {
		return nil, fmt.Errorf("projection text: %d bytes: must be at most %d", len(text), wktLongest)
	}
	r := &wktReader{text: strings.TrimRight(strings.TrimPrefix(text, "\ufeff"), "\x00 \t\r\n")}
	r.space()
	if r.end() {
		return nil, fmt.Errorf("projection text: is empty")
	}
	var roots []*node
	for {
		n, err := r.node(0)
		if err != nil {
			return nil, err
		}
		roots = append(roots, n)
		r.space()
		if r.end() {
			return roots, nil
		}
		if !r.take(',') {
			return nil, r.fault("a comma or the end")
		}
	}
}

func (r *wktReader) end() bool { return r.at >= len(r.text) }

func (r *wktReader) space() {
	for !r.end() && strings.IndexByte(" \t\r\n", r.text[r.at]) >= 0 {
		r.at++
	}
}

func (r *wktReader) take(c byte) bool {
	r.space()
	if r.end() || r.text[r.at] != c {
		return false
	}
	r.at++
	return true
}

func (r *wktReader) fault(want string) error {
	if r.end() {
		return fmt.Errorf("projection text: ends at byte %d: want %s", r.at+1, want)
	}
	rest := r.text[r.at:]
	return fmt.Errorf("projection text: %q at byte %d: want %s", rest[:min(len(rest), 12)], r.at+1, want)
}

func (r *wktReader) word() string {
	r.space()
	from := r.at
	for !r.end() {
		c := r.text[r.at]
		letter := c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c == '_'
		if !letter && (r.at == from || c < '0' || c > '9') {
			break
		}
		r.at++
	}
	return r.text[from:r.at]
}

// node reads KEYWORD[...]; depth counts the brackets around it.
func (r *wktReader) node(depth int) (*node, error) {
	if depth >= wktDeepest {
		return nil, fmt.Errorf("projection text: brackets at byte %d nest %d deep: must be at most %d", r.at+1, depth+1, wktDeepest)
	}
	key := r.word()
	if key == "" {
		return nil, r.fault("a keyword")
	}
	var closing byte
	switch {
	case r.take('['):
		closing = ']'
	case r.take('('):
		closing = ')'
	default:
		return nil, r.fault("a bracket after " + key)
	}
	n := &node{key: strings.ToUpper(key)}
	if r.take(closing) {
		return n, nil
	}
	for {
		if err := r.argument(n, depth); err != nil {
			return nil, err
		}
		if r.take(closing) {
			return n, nil
		}
		if !r.take(',') {
			return nil, r.fault("a comma or " + string(closing))
		}
	}
}

// argument reads one text, number, bare word or node into n.
func (r *wktReader) argument(n *node, depth int) error {
	r.space()
	if r.end() {
		return r.fault("a value in " + n.key)
	}
	c := r.text[r.at]
	switch {
	case c == '"':
		s, err := r.quoted()
		n.texts = append(n.texts, s)
		return err
	case c >= '0' && c <= '9' || c == '-' || c == '+' || c == '.':
		from := r.at
		for !r.end() && strings.IndexByte("0123456789+-.eE", r.text[r.at]) >= 0 {
			r.at++
		}
		v, err := strconv.ParseFloat(r.text[from:r.at], 64)
		if err != nil {
			r.at = from
			return r.fault("a number")
		}
		n.nums = append(n.nums, v)
		return nil
	}
	from := r.at
	w := r.word()
	if w == "" {
		return r.fault("a value in " + n.key)
	}
	r.space()
	if r.end() || r.text[r.at] != '[' && r.text[r.at] != '(' {
		n.words = append(n.words, strings.ToUpper(w))
		return nil
	}
	r.at = from
	k, err := r.node(depth + 1)
	n.kids = append(n.kids, k)
	return err
}

// quoted reads a text in quotation marks; a doubled mark stands for one.
func (r *wktReader) quoted() (string, error) {
	from := r.at
	var b strings.Builder
	for r.at++; !r.end(); r.at++ {
		if r.text[r.at] != '"' {
			b.WriteByte(r.text[r.at])
			continue
		}
		if r.at++; r.end() || r.text[r.at] != '"' {
			return strings.TrimSpace(b.String()), nil
		}
		b.WriteByte('"')
	}
	r.at = from
	return "", r.fault("a closing quotation mark")
}
