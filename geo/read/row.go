package read

import "strings"

// row is a record with named columns, as text.
type row interface {
	columns() int
	title(i int) string
	text(i int) string // "" for none
}

// cells is a row that was read.
type cells []cell

type cell struct{ column, text string }

func (c cells) columns() int       { return len(c) }
func (c cells) title(i int) string { return c[i].column }
func (c cells) text(i int) string  { return c[i].text }

// fieldNames are the properties and columns that name a field, the first one
// that is there and not empty; upper and lower case are not told apart. Common practice, no source.
var fieldNames = []string{"name", "field", "field_name", "fieldname", "id", "label", "title"}

// nameOf is the name of a field by its row, "" for none.
func nameOf(r row) string {
	for _, want := range fieldNames {
		for i := range r.columns() {
			if strings.EqualFold(r.title(i), want) {
				if s := strings.TrimSpace(r.text(i)); s != "" {
					return s
				}
			}
		}
	}
	return ""
}

// layerOf is the layer of balk's results that a row is of; "": of none.
func layerOf(r row) string {
	var o own
	for i := range r.columns() {
		title := r.title(i)
		if o.see([]byte(title)); title == ownMark {
			o.mark = r.text(i)
		}
	}
	return o.layer()
}

// columnTexts takes a row as the properties of a feature.
func (s *trackScan) columnTexts(f *feature, r row) {
	for i := range r.columns() {
		title := []byte(r.title(i))
		c := s.states.column(title, columnOf(title))
		if s.numbers(title, c, s.record) {
			s.orderText(f, r.text(i))
		}
		if s.parts(title, c) {
			f.section, f.hasSection = r.text(i), true
			continue
		}
		if c == noColumn {
			f.own.see(title)
			if s.states.looking() {
				s.otherText(title, []byte(r.text(i)))
			}
			continue
		}
		v := r.text(i)
		if v == "" {
			continue
		}
		switch {
		case c == markColumn:
			f.own.mark = v
		case c >= machineColumn && c <= farmColumn:
			s.toldText[c-machineColumn] = append(s.toldText[c-machineColumn][:0], v...)
			f.told |= 1 << (c - machineColumn)
		case c == passColumn:
			f.pass, f.hasPass = passKey{text: v}, true
		case c == nameColumn:
			s.nameText, f.hasName = append(s.nameText[:0], v...), true
		case v[0] == '[': // as balk writes lists where a format has none
			s.listText(f, c, v)
		case c == timeColumn || c == dateColumn:
			s.timeText(f, c, []byte(v))
		default:
			if x, ok := s.textValue(c, []byte(v)); ok {
				s.give(f, c, x)
			}
		}
	}
}
