package read

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"github.com/paulmach/orb"
)

// table reads a table of text.
func (r *spotReader) table(from io.Reader) error {
	t := table{lines: newLines(from), notes: r.notes}
	first, mark, err := t.start()
	if err != nil {
		return err
	}
	var titles []string
	var delimiter byte
	best := 0
	for _, d := range []byte{',', ';', '\t'} {
		if mark != 0 && d != mark {
			continue
		}
		fields, _ := splitRecord(nil, first, d, maxTableColumns)
		known, names := 0, make([]string, len(fields))
		for i, f := range fields {
			names[i] = plainText(bytes.TrimSpace(unquote(f)))
			if what, _ := spotMeaning(names[i]); what != spotNone {
				known++
			}
		}
		if known > best {
			best, delimiter, titles = known, d, names
		}
	}
	if best == 0 {
		return &FileError{File: r.notes.file, Record: 1, What: "no column of a spot check is known", Hint: spotHint}
	}
	for {
		line, ok := t.lines.next()
		if !ok {
			break
		}
		number := t.lines.number
		line = bytes.TrimSuffix(line, []byte{'\r'})
		if len(trim(line)) == 0 {
			continue
		}
		fields, open := splitRecord(nil, line, delimiter, len(titles)+1)
		for more := 0; open && more < joinedLines; more++ { // a quoted field runs on
			line = slices.Clone(line)
			next, ok := t.lines.next()
			if !ok {
				break
			}
			line = append(append(line, '\n'), bytes.TrimSuffix(next, []byte{'\r'})...)
			fields, open = splitRecord(nil, line, delimiter, len(titles)+1)
		}
		switch {
		case open:
			r.notes.add(number, nil, true, "a quoted field does not end: the spot check is left out")
			continue
		case len(line) >= maxLine:
			r.notes.add(number, nil, true, fmt.Sprintf("a line of %d bytes or more, the limit: the spot check is left out", maxLine))
			for !t.lines.whole {
				if _, ok := t.lines.next(); !ok {
					break
				}
			}
			continue
		case len(fields) > len(titles) && len(trim(fields[len(titles)])) > 0:
			r.notes.add(number, nil, true, fmt.Sprintf("more fields than the %d columns (is a decimal comma taken for a delimiter?): the spot check is left out", len(titles)))
			continue
		}
		values := make([]spotText, 0, len(fields))
		for i, f := range fields[:min(len(fields), len(titles))] {
			values = append(values, spotText{titles[i], string(unquote(trim(f)))})
		}
		r.record(number, nil, values)
	}
	if err := t.lines.broken(); err != nil {
		return fmt.Errorf("read %s: %w", r.notes.file, err)
	}
	return nil
}

// features reads points of GeoJSON.
func (r *spotReader) features(from io.Reader) error {
	data, err := io.ReadAll(io.LimitReader(from, maxSpots+1))
	if err != nil {
		return fmt.Errorf("read %s: %w", r.notes.file, err)
	}
	if len(data) > maxSpots {
		return &FileError{File: r.notes.file, What: fmt.Sprintf("over %d bytes, the limit for spot checks", maxSpots)}
	}
	type feature struct {
		Type     string `json:"type"`
		Geometry *struct {
			Type        string          `json:"type"`
			Coordinates json.RawMessage `json:"coordinates"`
		} `json:"geometry"`
		Properties map[string]json.RawMessage `json:"properties"`
	}
	var file struct {
		feature
		Features []json.RawMessage `json:"features"`
	}
	if err := json.Unmarshal(bytes.TrimPrefix(data, bom), &file); err != nil {
		return &FileError{File: r.notes.file, What: "no GeoJSON", Err: err}
	}
	if file.Type == "Feature" {
		file.Features = []json.RawMessage{data}
	}
	for k, raw := range file.Features {
		var f feature
		err := json.Unmarshal(bytes.TrimPrefix(raw, bom), &f)
		var at *orb.Point
		if err == nil && f.Geometry != nil {
			var place []float64
			switch {
			case f.Geometry.Type != "Point":
				err = fmt.Errorf("a %q, no Point", clip(f.Geometry.Type))
			case json.Unmarshal(f.Geometry.Coordinates, &place) != nil || len(place) < 2:
				err = errors.New("a Point without a place")
			default:
				at = &orb.Point{place[0], place[1]}
			}
		}
		if err != nil {
			r.notes.add(k+1, nil, true, err.Error()+": the spot check is left out")
			continue
		}
		var values []spotText
		for _, name := range slices.Sorted(maps.Keys(f.Properties)) {
			values = append(values, spotText{name, jsonWords(f.Properties[name])})
		}
		r.record(k+1, at, values)
	}
	return nil
}

// jsonWords is a value as a table has it: a list as its pieces.
func jsonWords(raw json.RawMessage) string {
	var text string
	var list []json.RawMessage
	switch {
	case json.Unmarshal(raw, &text) == nil:
		return text
	case json.Unmarshal(raw, &list) == nil:
		words := make([]string, len(list))
		for k, one := range list {
			words[k] = jsonWords(one)
		}
		return strings.Join(words, " | ")
	}
	return string(raw)
}

// waypoints reads waypoints of GPX: name is the id, desc and cmt hold "name=value" or "name: value" apart by ; or lines. Where neither does, they are the note.
func (r *spotReader) waypoints(from io.Reader) error {
	w := newXMLWalk(from)
	var at [2]float64
	var values []spotText
	inside, placed, line := false, false, 0
	err := w.walk(func(e xml.StartElement) bool {
		if e.Name.Local == "wpt" {
			inside, values, line = true, nil, w.line()
			placed = gpxPlace(e, &at)
		}
		return inside && w.parent(1) == "wpt"
	}, func(name string, text []byte) {
		switch {
		case name == "wpt" && inside:
			if inside = false; !placed {
				r.notes.add(line, nil, true, "a wpt without lat and lon that are numbers: the spot check is left out")
				return
			}
			r.record(line, &orb.Point{at[0], at[1]}, values)
		case text == nil:
		case name == "name":
			id, _, _ := strings.Cut(string(text), " · ") // behind it balk spots plan says where it is
			values = append(values, spotText{"id", id})
		case name == "time":
			values = append(values, spotText{"time", string(text)})
		case name == "desc" || name == "cmt":
			known := false
			var own []spotText
			for _, p := range pieces(string(text), false) {
				key, value, ok := strings.Cut(p, "=")
				if !ok { // as balk spots plan has it
					key, value, ok = strings.Cut(p, ": ")
				}
				if ok {
					what, _ := spotMeaning(strings.TrimSpace(key))
					known = known || what != spotNone
					own = append(own, spotText{strings.TrimSpace(key), strings.TrimSpace(value)})
				}
			}
			if !known {
				own = []spotText{{"note", string(text)}}
			}
			values = append(values, own...)
		}
	})
	if err != nil {
		return &FileError{File: r.notes.file, Record: w.line(), What: "the file breaks off or is no XML", Err: err}
	}
	return nil
}
