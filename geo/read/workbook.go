package read

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"balk/geo"
)

// A workbook of a spreadsheet (ECMA-376, Office Open XML) is a zip of XML files. Read are the values of its sheets, as a
// table of text would have them: formulas by their last result, dates by the format of their cell.

// workbookName is the file by which a workbook is told from other zips.
const workbookName = "xl/workbook.xml"

// Limits of a sheet, as ECMA-376 implies them and programs hold them (common practice, no source).
const (
	maxSheetRows    = 1 << 20
	maxSheetColumns = 1 << 14
)

// workbook is an open workbook.
type workbook struct {
	fsys   fs.FS
	file   string
	sheets []sheet
	shared []string     // texts that cells name by number
	kinds  []momentKind // of the styles of cells: noMoment for what is no date
	from   float64      // days from 1899-12-30 to day 0
}

type sheet struct{ name, path string }

// openWorkbook reads what belongs to all sheets.
func openWorkbook(fsys fs.FS, file string) (*workbook, error) {
	w := &workbook{fsys: fsys, file: file}
	targets := map[string]string{} // by the id of a relation
	formats := map[int]momentKind{}
	inStyles := false
	for _, part := range []struct {
		name  string
		start func(e xml.StartElement)
		end   func(name string, text []byte)
		text  string // elements whose text is wanted
	}{
		{name: "xl/_rels/workbook.xml.rels", start: func(e xml.StartElement) {
			if e.Name.Local == "Relationship" {
				targets[attribute(e, "Id")] = attribute(e, "Target")
			}
		}},
		{name: workbookName, start: func(e xml.StartElement) {
			switch e.Name.Local {
			case "workbookPr":
				if v := attribute(e, "date1904"); v == "1" || v == "true" {
					w.from = 1462
				}
			case "sheet":
				target := targets[attribute(e, "id")]
				if !strings.HasPrefix(target, "/") {
					target = "xl/" + target
				}
				w.sheets = append(w.sheets, sheet{attribute(e, "name"), strings.TrimPrefix(path.Clean(target), "/")})
			}
		}},
		{name: "xl/styles.xml", start: func(e xml.StartElement) {
			id, _ := strconv.Atoi(attribute(e, "numFmtId"))
			switch e.Name.Local {
			case "numFmt":
				formats[id] = dateKind(attribute(e, "formatCode"))
			case "cellXfs":
				inStyles = true
			case "xf":
				if kind, own := formats[id]; inStyles && own {
					w.kinds = append(w.kinds, kind)
				} else if inStyles {
					w.kinds = append(w.kinds, builtInDate(id))
				}
			}
		}, end: func(name string, _ []byte) { inStyles = inStyles && name != "cellXfs" }},
		{name: "xl/sharedStrings.xml", text: "t", start: func(e xml.StartElement) {
			if e.Name.Local == "si" {
				w.shared = append(w.shared, "")
			}
		}, end: func(name string, text []byte) {
			if n := len(w.shared); name == "t" && n > 0 {
				w.shared[n-1] += string(text)
			}
		}},
	} {
		f, err := fsys.Open(part.name)
		if errors.Is(err, fs.ErrNotExist) && part.name != workbookName {
			continue
		}
		if err != nil {
			return nil, fmt.Errorf("read %s: %w", file, err)
		}
		x := newXMLWalk(f)
		err = x.walk(func(e xml.StartElement) bool {
			part.start(e)
			return e.Name.Local == part.text && !x.within("rPh") // sounds of a text are no text
		}, func(name string, text []byte) {
			if part.end != nil {
				part.end(name, text)
			}
		})
		f.Close()
		if err != nil {
			return nil, &FileError{File: file, Place: part.name, What: "no workbook that can be read", Err: err}
		}
	}
	if len(w.sheets) == 0 {
		return nil, &FileError{File: file, What: "a workbook without sheets"}
	}
	return w, nil
}

func attribute(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// builtInDate says what the number formats are that no file defines (ECMA-376 part 1, 18.8.30).
func builtInDate(id int) momentKind {
	switch {
	case id >= 14 && id <= 17:
		return wholeDay
	case id >= 18 && id <= 21, id >= 45 && id <= 47:
		return timeOfDay
	case id == 22:
		return instant
	}
	return noMoment
}

// dateKind says what a number format shows, by its letters outside quotes and brackets: years and days, hours and seconds,
// both, or neither.
func dateKind(code string) momentKind {
	code, _, _ = strings.Cut(code, ";")
	day, clock := false, false
	for i := 0; i < len(code); i++ {
		switch code[i] | 0x20 {
		case '"' | 0x20:
			if n := strings.IndexByte(code[i+1:], '"'); n >= 0 {
				i += n + 1
			}
		case '[' | 0x20:
			if n := strings.IndexByte(code[i:], ']'); n >= 0 {
				clock = clock || strings.Trim(strings.ToLower(code[i:i+n]), "[hms") == "" // hours that run on
				i += n
			}
		case '\\' | 0x20, '_' | 0x20, '*' | 0x20:
			i++
		case 'y', 'd':
			day = true
		case 'h', 's':
			clock = true
		}
	}
	switch {
	case day && clock:
		return instant
	case day:
		return wholeDay
	case clock:
		return timeOfDay
	}
	return noMoment
}

// date is a number of days as the text of a date or time.
func (w *workbook) date(v float64, kind momentKind) string {
	if kind == timeOfDay && v >= 0 && v < 1 {
		return time.UnixMilli(int64(math.Round(v * 86400e3))).UTC().Format("15:04:05.000")
	}
	if v += w.from - serialEpoch; math.Abs(v) > 1e6 {
		return ""
	}
	at := time.UnixMilli(int64(math.Round(v * 86400e3))).UTC()
	if kind == wholeDay && v == math.Floor(v) {
		return at.Format(time.DateOnly)
	}
	return at.Format("2006-01-02T15:04:05.000")
}

// sheetText gives the rows of a sheet as the lines of a table with commas. Line n is row n.
type sheetText struct {
	*workbook
	x      *xml.Decoder
	out    []byte
	row    int // rows given
	cells  []string
	titled bool // the row of titles was found
	err    error
}

func (s *sheetText) Read(p []byte) (int, error) {
	for len(s.out) == 0 {
		if s.err != nil {
			return 0, s.err
		}
		s.out = s.out[:0]
		if s.err = s.next(); s.err != nil && s.err != io.EOF {
			s.err = errors.New(inOurWords(s.err))
		}
	}
	n := copy(p, s.out)
	s.out = s.out[n:]
	return n, nil
}

// next puts the next row into out.
func (s *sheetText) next() error {
	for {
		tok, err := s.x.Token()
		if err != nil {
			return err
		}
		e, ok := tok.(xml.StartElement)
		if !ok || e.Name.Local != "row" {
			continue
		}
		number := s.row + 1
		if r := attribute(e, "r"); r != "" {
			if number, err = strconv.Atoi(r); err != nil || number <= s.row || number > maxSheetRows {
				return fmt.Errorf("row %.20q after row %d: rows go up to %d", r, s.row, maxSheetRows)
			}
		}
		if err := s.cellsOf(); err != nil {
			return err
		}
		for ; s.row < number-1; s.row++ {
			s.out = append(s.out, '\n')
		}
		s.row = number
		s.line()
		return nil
	}
}

// line puts the cells of a row into out. What stands above the titles is left out.
func (s *sheetText) line() {
	if !s.titled {
		known := 0
		for _, c := range s.cells {
			switch meaning(c).column {
			case noColumn:
			case shapeColumn:
				known += 2
			default:
				known++
			}
		}
		if s.titled = known > 1; !s.titled && s.row < titlesWithin {
			s.cells = s.cells[:0]
		}
	}
	for i, c := range s.cells {
		if i > 0 {
			s.out = append(s.out, ',')
		}
		if strings.ContainsAny(c, ",\"\n") {
			c = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
		}
		s.out = append(s.out, c...)
	}
	s.out = append(s.out, '\n')
}

// titlesWithin is how far down a sheet the row of titles may stand.
const titlesWithin = 20

// cellsOf reads the cells of the row whose start was read.
func (s *sheetText) cellsOf() error {
	s.cells = s.cells[:0]
	for {
		tok, err := s.x.Token()
		if err != nil {
			return err
		}
		switch e := tok.(type) {
		case xml.EndElement:
			if e.Name.Local == "row" {
				return nil
			}
		case xml.StartElement:
			if e.Name.Local != "c" {
				if err := s.x.Skip(); err != nil {
					return err
				}
				continue
			}
			at := len(s.cells)
			if r := attribute(e, "r"); r != "" {
				if at = columnNumberOf(r); at < len(s.cells) || at >= maxSheetColumns {
					return fmt.Errorf("cell %.20q after %d others", r, len(s.cells))
				}
			}
			text, err := s.cell(e)
			if err != nil {
				return err
			}
			for len(s.cells) < at {
				s.cells = append(s.cells, "")
			}
			s.cells = append(s.cells, text)
		}
	}
}

// columnNumberOf is the column of a cell such as AB12, from 0; -1 for none.
func columnNumberOf(cell string) int {
	n := 0
	for _, c := range []byte(cell) {
		if c |= 0x20; c < 'a' || c > 'z' || n > maxSheetColumns {
			break
		}
		n = 26*n + int(c-'a') + 1
	}
	return n - 1
}

// cell is the value of a cell whose start was read.
func (s *sheetText) cell(e xml.StartElement) (string, error) {
	var value, inline strings.Builder
	into := (*strings.Builder)(nil)
	for {
		tok, err := s.x.Token()
		if err != nil {
			return "", err
		}
		switch t := tok.(type) {
		case xml.StartElement:
			switch t.Name.Local {
			case "v":
				into = &value
			case "t":
				into = &inline
			case "f", "rPh":
				if err := s.x.Skip(); err != nil {
					return "", err
				}
			}
		case xml.CharData:
			if into != nil && into.Len()+len(t) <= maxLine {
				into.Write(t)
			}
		case xml.EndElement:
			if into = nil; t.Name.Local == "c" {
				return s.value(e, value.String(), inline.String()), nil
			}
		}
	}
}

// value is a cell's value as text.
func (s *sheetText) value(e xml.StartElement, v, inline string) string {
	switch attribute(e, "t") {
	case "s":
		if i, err := strconv.Atoi(v); err == nil && i >= 0 && i < len(s.shared) {
			return s.shared[i]
		}
		return ""
	case "inlineStr":
		return inline
	case "e": // an error such as #N/A
		return ""
	case "str", "b", "d":
		return v
	}
	style, err := strconv.Atoi(attribute(e, "s"))
	if err != nil || style < 0 || style >= len(s.kinds) || s.kinds[style] == noMoment {
		return v
	}
	if days, err := strconv.ParseFloat(v, 64); err == nil {
		return s.date(days, s.kinds[style])
	}
	return v
}

// workbookOf gives what read finds in the sheets of a workbook. A sheet without the columns that are wanted is none.
func workbookOf[T any](fsys fs.FS, file, what string, t Taking, files *Files, words func([]T) string, read func(r io.Reader, file string) ([]T, []geo.Finding, error)) ([]T, []geo.Finding, error) {
	w, err := openWorkbook(fsys, file)
	if err != nil {
		return nil, nil, err
	}
	var names, held []string
	for _, s := range w.sheets {
		names = append(names, s.name)
	}
	wanted, chosen := t.named(files, names)
	var all []T
	var findings []geo.Finding
	var first error
	names = names[:0]
	for _, s := range w.sheets {
		if chosen && !slices.Contains(wanted, s.name) {
			continue
		}
		got, found, err := readSheet(w, s, read)
		if err != nil {
			if first == nil {
				first = err
			}
			loss := lossOf(file+"/"+s.name, err)
			if fault, ok := errors.AsType[*FileError](err); ok && fault.other && !chosen {
				loss.Lost = false
			}
			found = []geo.Finding{loss}
		} else {
			names, held = append(names, s.name), append(held, words(got))
		}
		all, findings = append(all, got...), append(findings, found...)
	}
	switch {
	case len(names) > 1 && !chosen:
		return nil, nil, t.severalLayers(file, what, names, held)
	case len(names) == 0:
		return nil, nil, first
	}
	return all, findings, nil
}

func readSheet[T any](w *workbook, s sheet, read func(r io.Reader, file string) ([]T, []geo.Finding, error)) ([]T, []geo.Finding, error) {
	file := w.file + "/" + s.name
	f, err := w.fsys.Open(s.path)
	if err != nil {
		return nil, nil, fmt.Errorf("read %s: %w", file, err)
	}
	defer f.Close()
	x := xml.NewDecoder(f)
	x.CharsetReader = charset
	return read(&sheetText{workbook: w, x: x}, file)
}

func workbookTracks(fsys fs.FS, file string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	return workbookOf(fsys, file, "tracks", o.Taking, o.Files, trackWords, func(r io.Reader, file string) ([]geo.Track, []geo.Finding, error) {
		return CSVTracks(r, file, o)
	})
}

func workbookFields(fsys fs.FS, file string, o Options) ([]geo.Field, []geo.Finding, error) {
	fields, findings, err := workbookOf(fsys, file, "boundaries", o.Taking, o.Files, func(f []geo.Field) string { return countOf(len(f), "field", "fields") }, func(r io.Reader, file string) ([]geo.Field, []geo.Finding, error) {
		return CSVFields(r, file, o)
	})
	for i := range fields {
		fields[i].Number = i + 1
	}
	return fields, findings, err
}
