package read

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"balk/geo"
)

// Options say how boundaries are read. The zero value refuses what is broken.
type Options struct {
	// Mend repairs rings that cross themselves or each other, see mend. Every repair is a
	// finding, with the area before and after.
	Mend bool
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
		s += e.Err.Error()
	}
	if e.Hint != "" {
		s += "\nhint: " + e.Hint
	}
	return s
}

func (e *FileError) Unwrap() error { return e.Err }

// format is what a file turned out to be.
type format int

const (
	unknownFormat format = iota
	geojsonFormat
	shapeFormat
	zipFormat
	isoxmlFormat
	geopackageFormat
	gpxFormat
	kmlFormat
	nmeaFormat
	csvFormat
)

// sniff tells the format by the first bytes: GeoJSON opens with a brace after an
// optional byte order mark and space, a shapefile with the number 9994, a zip
// with PK, a GeoPackage as SQLite; XML is told by its root element (GPX, KML, ISO
// 11783-10 task data), NMEA 0183 by a line that begins with the address of a
// sentence, a table by the names of columns in its first line.
func sniff(head []byte) format {
	if t := bytes.TrimLeft(bytes.TrimPrefix(head, bom), " \t\r\n"); len(t) > 0 && t[0] == '{' {
		return geojsonFormat
	}
	switch {
	case bytes.HasPrefix(head, []byte{0, 0, 0x27, 0x0a}):
		return shapeFormat
	case bytes.HasPrefix(head, []byte("PK\x03\x04")), bytes.HasPrefix(head, []byte("PK\x05\x06")):
		return zipFormat
	case bytes.HasPrefix(head, []byte(sqliteMagic)):
		return geopackageFormat
	case isTaskData(head):
		return isoxmlFormat
	}
	if f := xmlFormat(head); f != unknownFormat {
		return f
	}
	switch {
	case hasSentence(head, true):
		return nmeaFormat
	case isTable(head, false):
		return csvFormat
	case hasSentence(head, false):
		return nmeaFormat
	}
	return unknownFormat
}

// formatHint says what can be read.
const formatHint = "give GeoJSON, a shapefile (.shp), a GeoPackage, KML, ISO 11783-10 task data (its folder or TASKDATA.XML), a zip of shapefiles, KML or task data, or for tracks also GPX, NMEA 0183 or a table (CSV) whose first line names longitude and latitude"

var bom = []byte("\xef\xbb\xbf")

// sniffed is how many bytes sniff looks at: enough for leading space.
const sniffed = 4096

// opened is a file and what it turned out to be.
type opened struct {
	*os.File
	format format
	size   int64
	from   io.Reader // the whole content, from the first byte
}

// open opens a file and tells its format. named: columns are named by hand, and
// any text of several columns is a table.
func (files *Files) open(path string, named bool) (opened, error) {
	if path == "" {
		return opened{}, &CallError{"no file named"}
	}
	f, err := files.Open(path)
	if err != nil {
		return opened{}, fmt.Errorf("read: %w", err)
	}
	st, err := f.Stat()
	if err != nil {
		f.Close()
		return opened{}, fmt.Errorf("read: %w", err)
	}
	if st.IsDir() {
		f.Close()
		if name, ok := findTaskData(path); ok {
			return files.open(name, named)
		}
		return opened{}, &CallError{path + ": is a folder without TASKDATA.XML, a file is wanted"}
	}
	br := bufio.NewReaderSize(f, 1<<16)
	head, err := br.Peek(sniffed)
	if err != nil && err != io.EOF {
		f.Close()
		return opened{}, fmt.Errorf("read %s: %w", path, err)
	}
	if len(head) == 0 {
		f.Close()
		return opened{}, &FileError{File: path, What: "the file is empty"}
	}
	o := opened{File: f, format: sniff(head), size: st.Size(), from: br}
	if o.format == unknownFormat && named && isTable(head, true) {
		o.format = csvFormat
	}
	if o.format == shapeFormat && strings.EqualFold(filepath.Ext(path), ".shx") {
		f.Close()
		return opened{}, &FileError{File: path, What: "this is the index of a shapefile", Hint: "give the .shp beside it"}
	}
	if o.format == unknownFormat {
		f.Close()
		return opened{}, &FileError{File: path, What: fmt.Sprintf("not a format read here: it begins with %q", head[:min(len(head), 12)]), Hint: formatHint}
	}
	if o.format == geopackageFormat {
		if err := files.keepBeside(path + walSuffix); err != nil {
			f.Close()
			return opened{}, fmt.Errorf("read: %w", err)
		}
	}
	return o, nil
}

// Fields reads the field boundaries of a file. It gives what is good and
// findings about the rest; a file without one usable field is an error.
func Fields(path string, o Options) ([]geo.Field, []geo.Finding, error) {
	f, err := o.Files.open(path, false)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	return f.source(path, o.Files).fields(o)
}

// source is what a reader takes: a file, or one in a zip.
type source struct {
	format format
	fsys   fs.FS // what lies beside it
	name   string
	file   string    // for messages
	from   io.Reader // the whole content; nil: the reader opens it
	at     io.ReaderAt
	size   int64
}

func (f opened) source(path string, files *Files) source {
	s := source{format: f.format, file: path, from: f.from, at: f.File, size: f.size}
	if f.format == isoxmlFormat { // a folder of it may have been named
		s.file = f.Name()
	}
	s.fsys, s.name = files.Folder(filepath.Dir(s.file)), filepath.Base(s.file)
	return s
}

func (s source) fields(o Options) ([]geo.Field, []geo.Finding, error) {
	switch s.format {
	case shapeFormat:
		return ShapefileFields(s.fsys, s.name, s.file, o)
	case zipFormat:
		return ZipFields(s.at, s.size, s.file, o)
	case isoxmlFormat:
		return ISOXMLFields(s.fsys, s.name, s.file, o)
	case geopackageFormat:
		return GeoPackageFields(s.file, o)
	case kmlFormat:
		return KMLFields(s.from, s.file, o)
	case gpxFormat, nmeaFormat, csvFormat:
		kind := map[format]string{gpxFormat: "GPX", nmeaFormat: "NMEA 0183", csvFormat: "a table of text"}[s.format]
		return nil, nil, &FileError{File: s.file, What: "no field boundary in it: it is " + kind, Hint: "a boundary is read from GeoJSON, a shapefile, a GeoPackage, KML or task data"}
	}
	return GeoJSONFields(s.from, s.file, o)
}

// Tracks reads the tracks of a file, of the task data in a folder, or of all files in one. It gives what
// is good and findings about the rest; a file without one usable fix is an error.
func Tracks(path string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
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
	f, err := o.Files.open(path, len(o.Columns) > 0)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	tracks, findings, err := f.source(path, o.Files).tracks(o)
	if err == nil && !f.format.takes(o.Columns) {
		findings = append(findings, geo.Finding{File: path, What: "columns named by hand are for tables: not used here"})
	}
	return tracks, findings, err
}

func (s source) tracks(o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	switch s.format {
	case shapeFormat:
		return ShapefileTracks(s.fsys, s.name, s.file, o)
	case zipFormat:
		return ZipTracks(s.at, s.size, s.file, o)
	case isoxmlFormat:
		return ISOXMLTracks(s.fsys, s.name, s.file, o)
	case geopackageFormat:
		return GeoPackageTracks(s.file, o)
	case gpxFormat:
		return GPXTracks(s.from, s.file, o)
	case kmlFormat:
		return KMLTracks(s.from, s.file, o)
	case nmeaFormat:
		return NMEATracks(sized{s.from, s.size}, s.file)
	case csvFormat:
		return CSVTracks(sized{s.from, s.size}, s.file, o)
	}
	return GeoJSONTracks(s.from, s.file, o)
}

// takes says whether a format makes use of all columns named by hand: a table of any, one
// with properties of the work state and of the one that numbers points.
func (f format) takes(columns map[string]string) bool {
	switch f {
	case csvFormat:
		return true
	case geojsonFormat, shapeFormat, geopackageFormat, zipFormat:
		for name := range columns {
			if name != orderName && name != stateName {
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
