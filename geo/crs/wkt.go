package crs

import (
	"fmt"
	"math"
	"slices"
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

// name0 is the name of a node that may be none.
func (n *node) name0() string {
	if n == nil {
		return ""
	}
	return n.name()
}

// epsg is the code of the EPSG dataset that n says it has.
func (n *node) epsg() (code int, ok bool) {
	a := n.kid("AUTHORITY")
	if a == nil || !strings.EqualFold(a.name(), "EPSG") {
		return 0, false
	}
	if len(a.nums) > 0 {
		return int(a.nums[0]), true
	}
	if len(a.texts) < 2 {
		return 0, false
	}
	code, err := strconv.Atoi(a.texts[1])
	return code, err == nil
}

// wkt2 are the words of WKT2 (OGC 18-010) for what WKT1 calls otherwise.
var wkt2 = map[string]string{
	"GEOGCRS": "GEOGCS", "GEOGRAPHICCRS": "GEOGCS", "GEODCRS": "GEOGCS", "GEODETICCRS": "GEOGCS", "BASEGEOGCRS": "GEOGCS", "BASEGEODCRS": "GEOGCS", "PROJCRS": "PROJCS", "PROJECTEDCRS": "PROJCS",
	"COMPOUNDCRS": "COMPD_CS", "VERTCRS": "VERTCS", "VERTICALCRS": "VERTCS", "GEODETICDATUM": "DATUM", "TRF": "DATUM", "ENSEMBLE": "DATUM", "ELLIPSOID": "SPHEROID", "PRIMEMERIDIAN": "PRIMEM",
	"METHOD": "PROJECTION", "ANGLEUNIT": "UNIT", "LENGTHUNIT": "UNIT", "ID": "AUTHORITY",
}

// wkt2Remarks are parts of WKT2 that say nothing about where a place is on the map.
const wkt2Remarks = "SCOPE AREA BBOX USAGE REMARK CS ORDER DYNAMIC VERTICALEXTENT TIMEEXTENT MERIDIAN"

// toWKT1 says in the words of WKT1 what is written in those of WKT2. Parameters with a unit of their own are brought to degrees,
// metres and the unit that the text has then.
func (n *node) toWKT1() {
	if to := wkt2[n.key]; to != "" {
		n.key = to
	}
	var kids []*node
	for _, k := range n.kids {
		if has(wkt2Remarks, k.key) {
			continue
		}
		k.toWKT1()
		switch {
		case k.key == "CONVERSION":
			kids = append(kids, k.kids...)
		case k.key == "AXIS":
			kids = append(kids, k.axisUnits()...)
		default:
			kids = append(kids, k)
		}
	}
	n.kids = nil
	for _, k := range kids { // one unit, one code
		if k.key == "UNIT" && n.kid("UNIT") != nil || k.key == "AUTHORITY" && n.kid("AUTHORITY") != nil {
			continue
		}
		n.kids = append(n.kids, k)
	}
	switch n.key {
	case "PROJCS", "GEOGCS":
		n.ownUnits()
	case "SPHEROID", "DATUM":
		if u := n.kid("UNIT"); u != nil { // of the half axis: metres
			n.drop("UNIT")
		}
	}
}

// axisUnits gives an axis and the unit that WKT2 may write in it.
func (n *node) axisUnits() []*node {
	out := []*node{n}
	if u := n.kid("UNIT"); u != nil {
		n.drop("UNIT")
		out = append(out, u)
	}
	return out
}

func (n *node) drop(key string) {
	n.kids = slices.DeleteFunc(n.kids, func(k *node) bool { return k.key == key })
}

// ownUnits brings parameters, and the prime meridian, with a unit of their own to those of the system.
func (n *node) ownUnits() {
	unit := n.kid("UNIT")
	angle := unit
	if g := n.kid("GEOGCS"); g != nil {
		angle = g.kid("UNIT")
		if angle == nil { // WKT2 leaves it out there
			angle = &node{key: "UNIT", texts: []string{"degree"}, nums: []float64{math.Pi / 180}}
			g.kids = append(g.kids, angle)
		}
	}
	for _, k := range n.kids {
		u := k.kid("UNIT")
		if k.key != "PARAMETER" && k.key != "PRIMEM" {
			continue
		}
		k.drop("AUTHORITY")
		if u == nil || len(u.nums) != 1 || len(k.nums) != 1 {
			k.drop("SCALEUNIT")
			continue
		}
		k.drop("UNIT")
		size := u.nums[0]
		for _, to := range []*node{angle, unit} {
			if to != nil && len(to.nums) == 1 && to.nums[0] != 0 && isAngle(to) == isAngle(u) {
				k.nums[0] *= size / to.nums[0]
				break
			}
		}
	}
}

// isAngle says whether a UNIT is one of angle.
func isAngle(u *node) bool {
	return slices.ContainsFunc(angles, func(k known) bool { return k.named(u.name()) })
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
