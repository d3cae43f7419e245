package read

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
)

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
	posFormat
	flatgeobufFormat
)

// sniff tells the format by the first bytes: GeoJSON opens with a brace after an
// optional byte order mark, space and record separator, a shapefile with the number 9994, a zip
// with PK, a GeoPackage as SQLite; XML is told by its root element (GPX, KML, ISO
// 11783-10 task data), NMEA 0183 by a line that begins with the address of a
// sentence, computed positions by their line of titles, a table by the names of columns in its first line.
func sniff(head []byte) format {
	if t := bytes.TrimLeft(bytes.TrimPrefix(head, bom), " \t\r\n\x1e"); len(t) > 0 && t[0] == '{' {
		return geojsonFormat
	}
	switch {
	case bytes.HasPrefix(head, []byte{0, 0, 0x27, 0x0a}):
		return shapeFormat
	case bytes.HasPrefix(head, []byte("PK\x03\x04")), bytes.HasPrefix(head, []byte("PK\x05\x06")):
		return zipFormat
	case bytes.HasPrefix(head, []byte(sqliteMagic)):
		return geopackageFormat
	case bytes.HasPrefix(head, []byte(flatgeobufMagic)):
		return flatgeobufFormat
	case isTaskData(head):
		return isoxmlFormat
	}
	if f := xmlFormat(head); f != unknownFormat {
		return f
	}
	switch {
	case isPos(head):
		return posFormat
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
const formatHint = "give GeoJSON, a shapefile (.shp), a GeoPackage, FlatGeobuf, KML, ISO 11783-10 task data (its folder or TASKDATA.XML), a table (CSV, XLSX) whose first line names longitude and latitude or a geometry, for tracks also GPX, NMEA 0183 or computed positions (.pos), or any of these in a zip or gzip"

var bom = []byte("\xef\xbb\xbf")

// sniffed is how many bytes sniff looks at: enough for leading space.
const sniffed = 4096

// StandardInput is the path that means the standard input.
const StandardInput = "-"

// source is what a reader takes: a file, one in a zip, or standard input.
type source struct {
	format  format
	fsys    fs.FS // what lies beside it; nil: nothing does
	name    string
	file    string      // for messages
	path    string      // on the disk; "": it is not there, or only wrapped
	from    io.Reader   // the whole content
	at      io.ReaderAt // nil: it comes as a stream
	size    int64       // 0: not known
	closer  io.Closer
	wrapped int // zips around it
}

func (s *source) Close() error {
	if s.closer == nil {
		return nil
	}
	return s.closer.Close()
}

// source opens a file, takes it out of what it is wrapped in, and tells its format. named: columns are named by hand,
// and any text of several columns is a table.
func (files *Files) source(path string, named bool) (*source, error) {
	if path == "" {
		return nil, &CallError{"no file named"}
	}
	if path == StandardInput {
		in, err := files.standardInput()
		if err != nil {
			return nil, err
		}
		s := &source{file: "standard input", from: in}
		return s, s.unwrap(named)
	}
	f, err := files.Open(path)
	if err != nil {
		return nil, err
	}
	st, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("read: %w", err)
	}
	if st.IsDir() {
		f.Close()
		if name, ok := findTaskData(path); ok {
			return files.source(name, named)
		}
		return nil, &CallError{path + ": is a folder without TASKDATA.XML, a file is wanted"}
	}
	s := &source{file: path, from: f, closer: f}
	if st.Mode().IsRegular() { // else it comes once, as through a pipe
		s.fsys, s.name, s.path, s.at, s.size = files.Folder(filepath.Dir(path)), filepath.Base(path), path, f, st.Size()
	}
	if err = s.unwrap(named); err == nil && s.format == geopackageFormat && s.path != "" {
		if err = files.keepBeside(path + walSuffix); err != nil {
			err = fmt.Errorf("read: %w", err)
		}
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	return s, nil
}

// ownReport is how report.json and what --json prints begin.
var ownReport = regexp.MustCompile(`^\s*\{\s*"program"\s*:\s*"balk[ "]`)

// maxWrapped is how many wrappings, such as gzip or a zip in a zip, may lie in each other.
const maxWrapped = 4

// unwrap takes the content out of what it is wrapped in, a gzip or an encoding of text, and tells what it is.
func (s *source) unwrap(named bool) error {
	for ; s.wrapped <= maxWrapped; s.wrapped++ {
		br := bufio.NewReaderSize(s.from, 1<<16)
		head, err := br.Peek(sniffed)
		if err != nil && !errors.Is(err, io.EOF) {
			return fmt.Errorf("read %s: %w", s.file, err)
		}
		if len(head) == 0 {
			return &FileError{File: s.file, What: "the file is empty"}
		}
		s.from = br
		if wrapped, err := s.inner(head); err != nil {
			return &FileError{File: s.file, What: "no gzip that can be read", Err: err}
		} else if wrapped {
			continue
		}
		return s.tell(head, named)
	}
	return &FileError{File: s.file, What: fmt.Sprintf("it is wrapped more than %d times", maxWrapped)}
}

// Settings says whether a file describes a set, or what holds for all logs, by its name.
func Settings(name string) bool { return strings.EqualFold(filepath.Ext(name), ".toml") }

// tell finds the format by the first bytes, and has the content as the readers of that format want it.
func (s *source) tell(head []byte, named bool) error {
	s.format = sniff(head)
	if s.format == unknownFormat && named && isTable(head, true) {
		s.format = csvFormat
	}
	if Settings(s.name) { // its comments may read like the heads of a table
		return &FileError{File: s.file, What: "this describes a set or settings: no field and no log", Hint: "a set goes after --implement; a field and logs are given without a flag", strange: true}
	}
	if s.format == geojsonFormat && ownReport.Match(head) {
		return &FileError{File: s.file, What: "this is a report that balk wrote: no field and no log", Hint: "give the files of the field and its logs, as when it was written", strange: true}
	}
	switch s.format {
	case unknownFormat:
		return &FileError{File: s.file, What: fmt.Sprintf("not a format read here: it begins with %q", head[:min(len(head), 12)]), Hint: formatHint, strange: true}
	case shapeFormat:
		if strings.EqualFold(filepath.Ext(s.name), ".shx") {
			return &FileError{File: s.file, What: "this is the index of a shapefile", Hint: "give the .shp beside it"}
		}
		return s.beside("a shapefile")
	case isoxmlFormat:
		return s.beside("task data")
	case zipFormat, geopackageFormat:
		if s.at == nil {
			return s.hold()
		}
	}
	return nil
}

// beside refuses what is made of several files where only one came.
func (s *source) beside(what string) error {
	if s.fsys == nil {
		return &FileError{File: s.file, What: what + " is several files, and only one of them came", Hint: "give it where its other files lie beside it, or all of them in a zip"}
	}
	return nil
}

// maxHeld is the most that is held in memory of a file that is read here and there but comes as a stream.
const maxHeld = 1 << 30 // bytes

// hold reads a stream into memory.
func (s *source) hold() error {
	data, err := io.ReadAll(io.LimitReader(s.from, maxHeld+1))
	if err != nil {
		return fmt.Errorf("read %s: %w", s.file, err)
	}
	if len(data) > maxHeld {
		return &FileError{File: s.file, What: fmt.Sprintf("over %d bytes, the limit for what comes through a pipe or in a zip", maxHeld), Hint: "unpack it into a file and give that"}
	}
	r := bytes.NewReader(data)
	s.from, s.at, s.size = r, r, int64(len(data))
	return nil
}

// bytes is all of the content, for what is held in memory.
func (s *source) bytes() ([]byte, error) {
	data := make([]byte, s.size)
	_, err := io.ReadFull(io.NewSectionReader(s.at, 0, s.size), data)
	return data, err
}

var errStandardInput = &CallError{"standard input (-) is read once: only one file can come that way"}

// standardInput gives the standard input of the call, once.
func (f *Files) standardInput() (io.Reader, error) {
	if f == nil || f.Input == nil {
		return nil, &CallError{"- means standard input, and there is none"}
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.taken {
		return nil, errStandardInput
	}
	f.taken = true
	f.sized(-1)
	if in, ok := f.Input.(*os.File); ok {
		if err := notTerminal(in); err != nil {
			return nil, err
		}
	}
	return f.Input, nil
}

// notTerminal refuses to wait for what somebody types.
func notTerminal(in *os.File) error {
	st, err := in.Stat()
	if err != nil {
		return fmt.Errorf("read standard input: %w", err)
	}
	if st.Mode()&os.ModeCharDevice != 0 && in.Name() != os.DevNull {
		return &CallError{"- means standard input, and that is a terminal: give a file, or a command before a |"}
	}
	return nil
}
