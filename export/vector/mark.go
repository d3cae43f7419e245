package vector

// markColumn is the property by which our readers know what balk wrote, in every format: its value is the
// name of the layer. A result is no field and no track, whatever its file is called; but
// the layer of states may be given back.
const markColumn = "balk"

var markProperty = Property{Name: markColumn, Title: "layer of balk", Holds: Words}

// marked is a source with the mark.
func (s source) marked() source {
	rest := s.row
	s.Columns = append(s.Columns[:len(s.Columns):len(s.Columns)], markProperty)
	s.row = func(i int, row []any) []any { return append(rest(i, row), s.Name) }
	return s
}

// Marked is a layer with the mark.
func Marked(l Layer) Layer {
	l.Columns = append(l.Columns[:len(l.Columns):len(l.Columns)], markProperty)
	features := make([]Feature, len(l.Features))
	for i, f := range l.Features {
		features[i] = Feature{f.Geometry, append(f.Row[:len(f.Row):len(f.Row)], l.Name)}
	}
	l.Features = features
	return l
}
