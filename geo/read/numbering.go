package read

import (
	"fmt"
	"strings"
)

// orderName is how the column is named by hand that numbers the fixes in the order driven.
const orderName = "order"

// numberNames are names, plain and in lower case, of columns that often number the fixes. Such a
// column is offered where fixes seem out of order, but not used without being asked for:
// it may number rows of another table. Common practice, no source.
var numberNames = map[string]bool{
	"order": true, "sequence": true, "seq": true, "seq_no": true, "seqno": true, "point": true, "point_id": true, "pointid": true, "point_no": true,
	"point_nr": true, "point_number": true, "pt": true, "pt_id": true, "fid": true, "objectid": true, "object_id": true, "id": true, "record": true, "record_id": true,
	"record_no": true, "rec": true, "rec_no": true, "index": true, "idx": true, "no": true, "nr": true, "num": true, "number": true, "row": true, "row_no": true,
	"fix": true, "fix_no": true, "fix_id": true, "line": true, "line_no": true, "counter": true, "count": true, "position_no": true,
}

// numbering finds the property that numbers the points of a file.
type numbering struct {
	wanted string // named by hand; "": none
	found  string // not wanted, but its name says so
	passes passNumbers[passKey]

	section  string              // the column of sections or machines, named by hand; "": one whose name says so
	sections map[string]*growing // the tracks of points by its values; nil: it is in no record yet
}

// sectionName is how the column is named by hand that says which section or machine a point is of.
const sectionName = "section"

// parts says whether a property says which section or machine a point is of.
func (n *numbering) parts(name []byte, c column) bool {
	if n.section != "" {
		return len(name) == len(n.section) && strings.EqualFold(string(name), n.section)
	}
	if c != noColumn {
		return false
	}
	is, known := namedColumn(plainName(string(name)))
	return known && is == sectionColumn
}

// sectionValue reads the value of the property that says which section or machine a point is of.
func (s *trackScan) sectionValue(f *feature) {
	if text, is := s.plain(nil); is {
		f.section, f.hasSection = string(text), true
	}
}

// toSection makes the track of a section or machine that of points at hand.
func (s *trackScan) toSection(f *feature) {
	if s.sections == nil {
		s.sections = map[string]*growing{}
		if s.points != nil {
			s.sections[""] = s.points
		}
	}
	g, known := s.sections[f.section]
	if !known && len(s.sections) == maxSections {
		s.fail("the section column has more than %d different values: it is no section's number", maxSections)
		return
	}
	if !known {
		g = s.begin()
		g.came.Points = true
		if f.section != "" {
			g.name, g.came.Section = "section "+clip(f.section), f.section
		}
		s.sections[f.section] = g
	}
	if s.points != g {
		s.points = g
		s.pass = f.pass
	}
}

// numbers says whether a property is the wanted one. In the first record it also looks for one to offer.
func (n *numbering) numbers(name []byte, c column, record int) bool {
	if n.wanted == "" {
		if record <= 1 && n.found == "" && c == noColumn && numberNames[plainName(string(name))] {
			n.found = string(name)
		}
		return false
	}
	return len(name) == len(n.wanted) && strings.EqualFold(string(name), n.wanted)
}

// orderValue reads the value of the property that numbers the fixes.
func (s *trackScan) orderValue(f *feature) {
	switch b := s.peek(); {
	case b == '"':
		s.orderText(f, string(s.pull.text()))
	case b == '-' || b-'0' < 10:
		f.values.set(orderColumn, s.number())
	default:
		s.skip()
	}
}

func (s *trackScan) orderText(f *feature, text string) {
	if v, ok := plainNumber([]byte(text)); ok {
		f.values.set(orderColumn, v)
	} else if text != "" {
		s.notes.countAs(s.record, true, "no number", fmt.Sprintf("%s %s is no number", s.wanted, inQuotes([]byte(text))))
	}
}

// passNumbers numbers the values of a pass column in the order in which they come.
type passNumbers[K comparable] struct {
	seen map[K]int32
	last K
	now  int32
}

func (p *passNumbers[K]) of(k K) int32 {
	if p.seen != nil && k == p.last {
		return p.now
	}
	if p.seen == nil {
		p.seen = map[K]int32{}
	}
	n, known := p.seen[k]
	if !known {
		n = int32(len(p.seen))
		p.seen[k] = n
	}
	p.last, p.now = k, n
	return n
}
