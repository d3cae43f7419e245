package read

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"balk/geo"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// Options say how boundaries are read. The zero value refuses what is broken.
type Options struct {
	// Mend repairs rings that cross themselves or each other, see mend. Every repair is a
	// finding, with the area before and after.
	Mend bool
	// Close takes lines and walked tracks for boundaries, closed from their end to their beginning, and nothing else.
	Close bool
	Taking
	// Files opens what is read; nil = nothing is kept of it.
	Files *Files
}

// CallError is a fault of the call, not of the file.
type CallError struct{ What string }

func (e *CallError) Error() string { return e.What }

// FileError is a file, or a part of one, that cannot be used.
type FileError struct {
	File   string
	Record int    // feature or record, from 1; 0 = the whole file
	Place  string // "byte 1234", a member, a column; "" when there is none
	What   string // lower case, value and limit shown
	Hint   string // what to do about it, on a line of its own
	Err    error  // what lies below, if anything

	strange bool // it is of no format that is read
	other   bool // it is whole, and holds something else: tracks where fields are wanted, or fields for tracks
}

const (
	cutOff  = "the file ends too early"                                                                      // io.ErrUnexpectedEOF
	noList  = "the list of its files is missing or damaged; it stands at the end, so the end may be cut off" // zip.ErrFormat
	noPages = "its pages do not fit together: it is cut off or damaged"                                      // a database
)

// inOurWords is what an error says, without the words of those who take XML, zips and databases apart.
func inOurWords(err error) string {
	s := err.Error()
	if x, ok := errors.AsType[*xml.SyntaxError](err); ok {
		what := "from here on it is no XML"
		switch {
		case x.Msg == io.ErrUnexpectedEOF.Error():
			what = cutOff
		case strings.Contains(x.Msg, "closed by") || strings.HasPrefix(x.Msg, "unexpected end element"):
			what = "an element ends here that is not the last one to begin"
		case x.Msg == "invalid UTF-8":
			what = "letters here are no UTF-8, and the file names no other encoding"
		}
		s = strings.Replace(s, x.Error(), what, 1)
	}
	if errors.Is(err, zip.ErrFormat) {
		s = strings.Replace(s, zip.ErrFormat.Error(), noList, 1)
	}
	if x, ok := errors.AsType[*sqlite.Error](err); ok && (x.Code()&0xff == sqlite3.SQLITE_CORRUPT || x.Code()&0xff == sqlite3.SQLITE_NOTADB) {
		s = strings.Replace(s, x.Error(), noPages, 1)
	}
	if before, after, ok := strings.Cut(s, "xml: opening charset "); ok {
		_, after, _ = strings.Cut(after, ": ")
		s = before + after
	}
	return strings.Replace(s, io.ErrUnexpectedEOF.Error(), cutOff, 1)
}

func (e *FileError) Error() string {
	s := e.File
	if e.Record > 0 {
		s += fmt.Sprintf(", record %d", e.Record)
	}
	if e.Place != "" {
		s += ", " + e.Place
	}
	s += ": " + e.What
	if e.Err != nil {
		if e.What != "" {
			s += ": "
		}
		s += inOurWords(e.Err)
	}
	if e.Hint != "" {
		s += "\nhint: " + e.Hint
	}
	return s
}

func (e *FileError) Unwrap() error { return e.Err }

// Other says whether the file is whole, and holds tracks where fields are wanted, or fields for tracks.
func (e *FileError) Other() bool { return e.other }

// Fields reads the field boundaries of a file. It gives what is good and
// findings about the rest; a file without one usable field is an error.
func Fields(path string, o Options) ([]geo.Field, []geo.Finding, error) {
	if o.Close {
		return closedFields(path, o)
	}
	s, err := o.Files.source(path, false)
	if err != nil {
		return nil, nil, err
	}
	defer s.Close()
	fields, findings, err := s.fields(o)
	if err == nil {
		err = o.known()
	}
	if fault, ok := errors.AsType[*FileError](err); ok && fault.other {
		fault.Hint += "; --close takes a closed line or a walked track for one"
	}
	return fields, findings, err
}

func (s *source) fields(o Options) ([]geo.Field, []geo.Finding, error) {
	switch s.format {
	case shapeFormat:
		return ShapefileFields(s.fsys, s.name, s.file, o)
	case zipFormat:
		return zipFields(s, o)
	case isoxmlFormat:
		return ISOXMLFields(s.fsys, s.name, s.file, o)
	case geopackageFormat:
		return geopackageFields(s, o)
	case kmlFormat:
		return KMLFields(s.from, s.file, o)
	case flatgeobufFormat:
		return FlatGeobufFields(s.from, s.file, o)
	case csvFormat:
		return CSVFields(sized{s.from, s.size}, s.file, o)
	case gpxFormat, nmeaFormat, posFormat:
		kind := map[format]string{gpxFormat: "GPX", nmeaFormat: "NMEA 0183", posFormat: "computed positions"}[s.format]
		return nil, nil, &FileError{File: s.file, What: "no field boundary in it: it is " + kind, Hint: "a boundary is read from GeoJSON, a shapefile, a GeoPackage, KML or task data", other: true}
	}
	return GeoJSONFields(s.from, s.file, o)
}

// Tracks reads the tracks of a file, of the task data in a folder, or of all files in one. It gives what
// is good and findings about the rest; a file without one usable fix is an error.
func Tracks(path string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	if path == StandardInput {
		return fileTracks(path, o)
	}
	if err := o.Files.enter(path); err != nil {
		return nil, nil, err
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		if _, taskData := findTaskData(path); !taskData {
			return folderTracks(path, o)
		}
		if tracks, findings, err := fileTracks(path, o); err == nil || !isResult(path) {
			return tracks, findings, err
		}
		return folderTracks(path, o) // task data for a terminal, without logs
	}
	return fileTracks(path, o)
}

func fileTracks(path string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	s, err := o.Files.source(path, len(o.Columns) > 0 || o.CRS != 0)
	if err != nil {
		return nil, nil, err
	}
	defer s.Close()
	return s.tracks(o)
}

func (s *source) tracks(o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	tracks, findings, err := s.tracksOfFormat(o)
	if err == nil {
		err = o.known()
	}
	if err == nil && !s.format.takes(o.Columns) && !(s.format == isoxmlFormat && o.Component != "" && len(o.Columns) == 1 && o.Columns[stateName] != "") {
		findings = append(findings, geo.Finding{File: s.file, What: "columns named by hand are for tables: not used here"})
	}
	return tracks, findings, err
}

func (s *source) tracksOfFormat(o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	switch s.format {
	case shapeFormat:
		return ShapefileTracks(s.fsys, s.name, s.file, o)
	case zipFormat:
		return zipTracks(s, o)
	case isoxmlFormat:
		if o.planned {
			return isoGuidance(s.fsys, s.name, s.file)
		}
		return ISOXMLTracks(s.fsys, s.name, s.file, o)
	case geopackageFormat:
		return geopackageTracks(s, o)
	case gpxFormat:
		return GPXTracks(s.from, s.file, o)
	case kmlFormat:
		return KMLTracks(s.from, s.file, o)
	case nmeaFormat:
		return NMEATracks(sized{s.from, s.size}, s.file)
	case flatgeobufFormat:
		return FlatGeobufTracks(s.from, s.file, o)
	case posFormat:
		return PosTracks(s.from, s.file, o)
	case csvFormat:
		return CSVTracks(sized{s.from, s.size}, s.file, o)
	}
	return GeoJSONTracks(s.from, s.file, o)
}

// takes says whether a format makes use of all columns named by hand: a table of any, one
// with properties of the work state and of the one that numbers points.
func (f format) takes(columns map[string]string) bool {
	switch f {
	case csvFormat, zipFormat: // of a zip each file says it for itself, and the sheets of a workbook are tables
		return true
	case geojsonFormat, shapeFormat, geopackageFormat, flatgeobufFormat:
		for name := range columns {
			if name != orderName && name != stateName && name != sectionName {
				return false
			}
		}
		return true
	case kmlFormat, gpxFormat:
		_, state := columns[stateName]
		return len(columns) == 0 || len(columns) == 1 && state
	}
	return len(columns) == 0
}
