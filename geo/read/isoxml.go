package read

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"balk/geo"
	"balk/geo/read/internal/isobus"
)

// taskDataName is the file that a set of ISO 11783-10 task data begins with;
// names are taken in whatever case.
const taskDataName = "TASKDATA.XML"

// taskData is what is used of a set of task data: fields, devices and tasks.
// All attributes are text as they stand in the file; the letters are those of
// ISO 11783-10.
type taskData struct {
	fsys    fs.FS
	dir     string            // of TASKDATA.XML in fsys
	names   map[string]string // files in dir, by their name in lower case
	notes   tally
	folder  string // of the set, for messages
	fields  []isoField
	devices []isobus.Device
	tasks   []isoTask
	whos    map[string]isoWho // by their ids
}

// isoWho is a customer (CTR), a farm (FRM) or a worker (WKR).
type isoWho struct {
	ID    string `xml:"A,attr"`
	Name  string `xml:"B,attr"` // of a person the last one
	First string `xml:"C,attr"` // a farm has its street there
}

type isoField struct { // PFD
	ID         string       `xml:"A,attr"`
	Code       string       `xml:"B,attr"`
	Designator string       `xml:"C,attr"`
	Customer   string       `xml:"E,attr"`
	Farm       string       `xml:"F,attr"`
	Polygons   []isoPolygon `xml:"PLN"`
	Guidance   []isoGroup   `xml:"GGP"`
}

type isoPolygon struct { // PLN
	Type  string    `xml:"A,attr"`
	Rings []isoRing `xml:"LSG"`
}

type isoGroup struct { // GGP
	Designator string       `xml:"B,attr"`
	Patterns   []isoPattern `xml:"GPN"`
}

type isoPattern struct { // GPN
	Designator string    `xml:"B,attr"`
	Lines      []isoRing `xml:"LSG"`
}

type isoRing struct { // LSG
	Type   string     `xml:"A,attr"`
	Points []isoPoint `xml:"PNT"`
}

type isoPoint struct { // PNT
	North string `xml:"C,attr"`
	East  string `xml:"D,attr"`
	File  string `xml:"J,attr"`
}

type isoTask struct { // TSK
	ID         string     `xml:"A,attr"`
	Designator string     `xml:"B,attr"`
	Customer   string     `xml:"C,attr"`
	Farm       string     `xml:"D,attr"`
	Field      string     `xml:"E,attr"`
	Worker     string     `xml:"F,attr"` // who is responsible
	Logs       []isoLog   `xml:"TLG"`
	Workers    []struct { // WAN
		Worker string `xml:"A,attr"`
	} `xml:"WAN"`
	Devices []struct { // DAN
		Device string `xml:"C,attr"`
	} `xml:"DAN"`
}

type isoLog struct { // TLG
	Name string `xml:"A,attr"`
}

// openTaskData reads TASKDATA.XML, which lies at name in fsys, and the files it
// takes parts from. file is the name for messages.
func openTaskData(fsys fs.FS, name, file string) (*taskData, error) {
	d := &taskData{fsys: fsys, dir: path.Dir(name), names: map[string]string{}, whos: map[string]isoWho{}, notes: tally{file: file}}
	if d.folder = strings.TrimSuffix(file, path.Base(name)); d.folder == file {
		d.folder = file + "/"
	}
	list, err := fs.ReadDir(fsys, d.dir)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", file, err)
	}
	for _, e := range list {
		low := strings.ToLower(e.Name())
		if _, twice := d.names[low]; twice {
			d.notes.add(0, nil, false, fmt.Sprintf("two files are called %s but for upper and lower case: the first is used", e.Name()))
			continue
		}
		d.names[low] = path.Join(d.dir, e.Name())
	}
	outside, err := d.parse(name, "ISO11783_TaskData")
	if err != nil {
		return nil, err
	}
	for i, ref := range outside { // parts in files of their own are not nested
		if slices.Contains(outside[:i], ref) {
			continue
		}
		n, ok := d.names[strings.ToLower(ref)+".xml"]
		if !ok {
			d.notes.add(0, nil, true, fmt.Sprintf("%s.XML, a part of the task data, is not there", ref))
			continue
		}
		if _, err := d.parse(n, "XFC"); err != nil {
			if errors.Is(err, errBudget) {
				return nil, err
			}
			d.notes.add(0, nil, true, fmt.Sprintf("%s.XML, a part of the task data, %s", ref, lossText(err)))
		}
	}
	return d, nil
}

// parse reads one XML file of the set: fields, devices and tasks below its root.
// outside names the files (without .XML) that hold further parts. A file that
// breaks off gives what came before.
func (d *taskData) parse(name, root string) (outside []string, err error) {
	file := d.folder + path.Base(name)
	f, err := d.fsys.Open(name)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", file, err)
	}
	defer f.Close()
	x := newXML(f)
	if err := enterRoot(x, root); err != nil {
		if errors.Is(err, errBudget) {
			return nil, err
		}
		return nil, &FileError{File: file, Place: fmt.Sprintf("byte %d", x.InputOffset()), What: "no ISO 11783-10 task data", Err: err}
	}
	for {
		tok, err := x.Token()
		if err == nil {
			switch t := tok.(type) {
			case xml.StartElement:
				err = d.element(x, &t, &outside)
			case xml.EndElement: // of the root
				return outside, nil
			}
		}
		if errors.Is(err, errBudget) {
			return nil, err
		}
		if err != nil {
			d.notes.add(0, nil, true, fmt.Sprintf("%s is unreadable from byte %d on, what comes before is used: %s", path.Base(name), x.InputOffset(), inOurWords(err)))
			return outside, nil
		}
	}
}

// element reads one element below the root.
func (d *taskData) element(x *xml.Decoder, t *xml.StartElement, outside *[]string) error {
	switch t.Name.Local {
	case "PFD":
		return decodeInto(x, t, &d.fields)
	case "DVC":
		return decodeInto(x, t, &d.devices)
	case "TSK":
		return decodeInto(x, t, &d.tasks)
	case "CTR", "FRM", "WKR":
		var who isoWho
		if err := x.DecodeElement(&who, t); err != nil {
			return err
		}
		if _, twice := d.whos[who.ID]; !twice && who.ID != "" {
			d.whos[who.ID] = who
		}
		return nil
	case "XFR":
		for _, a := range t.Attr {
			if a.Name.Local == "A" {
				*outside = append(*outside, a.Value)
			}
		}
	}
	return x.Skip()
}

func decodeInto[T any](x *xml.Decoder, t *xml.StartElement, list *[]T) error {
	var v T
	if err := x.DecodeElement(&v, t); err != nil {
		return err
	}
	*list = append(*list, v)
	return nil
}

// newXML is a decoder for whatever encoding a file declares, or has without saying so.
func newXML(r io.Reader) *xml.Decoder {
	br := bufio.NewReader(r)
	r = br
	if head, _ := br.Peek(8); utf16Order(head) != nil { // an error comes again
		r = &fromUTF16{r: br, order: utf16Order(head)}
	}
	x := xml.NewDecoder(r)
	x.CharsetReader = charset
	return x
}

// enterRoot goes to the root element, which must be called root.
func enterRoot(x *xml.Decoder, root string) error {
	for {
		tok, err := x.Token()
		if err != nil {
			return err
		}
		if t, ok := tok.(xml.StartElement); ok {
			if t.Name.Local != root {
				return fmt.Errorf("its root is <%s>, <%s> is wanted", t.Name.Local, root)
			}
			return nil
		}
	}
}

// told is who did a task with what for whom.
func (d *taskData) told(t isoTask) geo.Told {
	farm, customer := t.Farm, t.Customer
	for _, f := range d.fields {
		if f.ID == t.Field {
			farm, customer = cmp.Or(farm, f.Farm), cmp.Or(customer, f.Customer)
		}
	}
	out := geo.Told{Farm: cmp.Or(d.name(farm, false), d.name(customer, true)), Driver: d.name(t.Worker, true)}
	for _, w := range t.Workers {
		out.Driver = cmp.Or(out.Driver, d.name(w.Worker, true))
	}
	var machines []string
	for _, v := range d.devices {
		allocated := len(t.Devices) == 0
		for _, one := range t.Devices {
			allocated = allocated || one.Device == v.ID
		}
		if name := strings.TrimSpace(v.Designator); allocated && name != "" && !slices.Contains(machines, name) {
			machines = append(machines, name)
		}
	}
	out.Machine = strings.Join(machines, ", ")
	return out
}

// name is that of a farm or a person; "": there is none.
func (d *taskData) name(id string, person bool) string {
	w := d.whos[id]
	if !person {
		w.First = ""
	}
	return strings.ToValidUTF8(strings.TrimSpace(w.First+" "+w.Name), "\uFFFD")
}

// ISOXMLTracks reads the logs of a set of ISO 11783-10 task data: TASKDATA.XML
// at name in fsys, and beside it a header TLGnnnnn.XML and records TLGnnnnn.BIN
// for every log, names in whatever case. file is the name of TASKDATA.XML for
// messages.
//
//   - Every log is a track of one part, named by its task; FieldRef is the field
//     of the task as ISOXMLFields names it.
//   - Time is that of the receiver (UTC) where most records have it, else the
//     record's clock, which is local time of the producing system: of
//     TrackOptions.Zone, or taken as UTC with a finding. The two are never mixed: they can be minutes apart.
//   - State, Width and Offset come from the logged values and the device
//     description: see implementLog.
//   - Told is the farm of the task or of its field, else the customer; the worker of the task; and the devices that were
//     allocated to it, or all that are described. Their attributes are those of ISO 11783-10 from memory.
//   - Counted is by how much DDI 117 and 118 rose over the log.
//   - A log that no task names is read as well, with a finding.
func ISOXMLTracks(fsys fs.FS, name, file string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	d, err := openTaskData(fsys, name, file)
	if err != nil {
		return nil, nil, err
	}
	l := taskLogs{taskData: d, options: o, seen: map[string]bool{}}
	for _, t := range d.tasks {
		field := d.fieldRef(t)
		var told geo.Told
		if len(t.Logs) > 0 {
			told = d.told(t)
		}
		for _, log := range t.Logs {
			if err := l.take(geo.Track{Name: taskTitle(t, log.Name), FieldRef: field, Told: told}, log.Name); err != nil {
				return nil, nil, err
			}
		}
	}
	for _, log := range d.loose(l.seen) {
		d.notes.add(0, nil, false, fmt.Sprintf("log %s is named by no task: read all the same", log))
		if err := l.take(geo.Track{Name: log}, log); err != nil {
			return nil, nil, err
		}
	}
	if len(l.missing) > 0 {
		d.notes.add(0, nil, true, fmt.Sprintf("%d of %d logs are not there: %s", len(l.missing), len(l.seen), strings.Join(l.missing, ", ")))
	}
	switch {
	case len(l.tracks) > 0:
		return l.tracks, append(d.notes.findings(), l.findings...), nil
	case l.first != nil:
		return nil, nil, l.first
	}
	return nil, nil, d.notes.nothing("no log in it", "a log is TLGnnnnn.XML and TLGnnnnn.BIN beside TASKDATA.XML", false)
}

// taskLogs are the logs of a set, as they are read.
type taskLogs struct {
	*taskData
	options  TrackOptions
	tracks   []geo.Track
	findings []geo.Finding
	first    error // of a log that cannot be used
	missing  []string
	seen     map[string]bool // by the name of a log in lower case
}

// take reads a log into a track. An error is of the whole set.
func (l *taskLogs) take(track geo.Track, log string) error {
	low := strings.ToLower(log)
	if l.seen[low] {
		l.notes.add(0, nil, false, fmt.Sprintf("log %s is named by two tasks: it is read for the first", log))
		return nil
	}
	l.seen[low] = true
	head, ok1 := l.names[low+".xml"]
	body, ok2 := l.names[low+".bin"]
	if !ok1 && !ok2 {
		l.missing = append(l.missing, log)
		return nil
	}
	track.Source = l.folder + path.Base(body)
	if !ok2 {
		track.Source = l.folder + log + ".BIN"
	}
	notes := l.options.notes(track.Source)
	err := error(nil)
	switch {
	case !ok1:
		err = &FileError{File: track.Source, What: fmt.Sprintf("its header %s.XML is not there", log)}
	case !ok2:
		err = &FileError{File: track.Source, What: "the file is not there, only its header"}
	default:
		err = l.readLog(head, body, &track, &notes, l.options.Component)
	}
	switch {
	case errors.Is(err, errBudget):
		return err
	case err == nil:
		l.tracks = append(l.tracks, track)
	default:
		if l.first == nil {
			l.first = err
		}
		notes.add(0, nil, true, lossText(err))
	}
	l.findings = append(l.findings, notes.findings()...)
	return nil
}

// loose are the logs among the files that no task named, in the order of names.
func (d *taskData) loose(seen map[string]bool) []string {
	var out []string
	for low, name := range d.names {
		stem, isBin := strings.CutSuffix(low, ".bin")
		if _, header := d.names[stem+".xml"]; isBin && header && strings.HasPrefix(stem, "tlg") && !seen[stem] {
			out = append(out, strings.TrimSuffix(path.Base(name), path.Ext(name)))
		}
	}
	slices.Sort(out)
	return out
}

// taskTitle names a track: the task by designator and id, and its log.
func taskTitle(t isoTask, log string) string {
	if s := strings.TrimSpace(t.Designator); s != "" {
		return fmt.Sprintf("%s (%s, %s)", s, t.ID, log)
	}
	return fmt.Sprintf("%s, %s", t.ID, log)
}

// fieldRef is the name of the field a task was done on.
func (d *taskData) fieldRef(t isoTask) string {
	if t.Field == "" {
		return ""
	}
	for i, f := range d.fields {
		if f.ID == t.Field {
			return d.fieldTitle(i)
		}
	}
	d.notes.add(0, nil, false, fmt.Sprintf("task %s names the field %s, which is not there", t.ID, t.Field))
	return ""
}

func isTaskDataName(name string) bool { return strings.EqualFold(path.Base(name), taskDataName) }

// isTaskData tells task data by the root element of its first bytes.
func isTaskData(head []byte) bool {
	head = bytes.TrimLeft(bytes.TrimPrefix(head, bom), " \t\r\n")
	return bytes.HasPrefix(head, []byte("<")) && bytes.Contains(head, []byte("<ISO11783_TaskData"))
}

// findTaskData looks for TASKDATA.XML in a folder, or in a folder TASKDATA in it.
func findTaskData(dir string) (string, bool) {
	below := ""
	list, err := os.ReadDir(dir)
	if err != nil {
		return "", false
	}
	for _, e := range list {
		switch {
		case !e.IsDir() && isTaskDataName(e.Name()):
			return filepath.Join(dir, e.Name()), true
		case e.IsDir() && strings.EqualFold(e.Name(), "TASKDATA"):
			below = filepath.Join(dir, e.Name())
		}
	}
	list, err = os.ReadDir(below)
	if below == "" || err != nil {
		return "", false
	}
	for _, e := range list {
		if !e.IsDir() && isTaskDataName(e.Name()) {
			return filepath.Join(below, e.Name()), true
		}
	}
	return "", false
}

// readLog reads a log into a track. component: see TrackOptions.
func (d *taskData) readLog(head, body string, track *geo.Track, notes *tally, component string) error {
	f, err := d.fsys.Open(head)
	if err != nil {
		return fmt.Errorf("read %s: %w", track.Source, err)
	}
	defer f.Close()
	x := newXML(f)
	h, err := isobus.ReadHeader(x)
	if err != nil {
		if errors.Is(err, errBudget) {
			return err
		}
		return &FileError{File: track.Source, What: "its header cannot be used", Err: err}
	}
	b, err := d.fsys.Open(body)
	if err != nil {
		return fmt.Errorf("read %s: %w", track.Source, err)
	}
	defer b.Close()
	devices := d.devices
	if component != "" {
		if h, devices, err = h.Part(devices, component); err != nil {
			return &FileError{File: track.Source, What: err.Error()}
		}
	}
	err = isobus.Read(b, h, devices, logNotes{notes}, track)
	if fault, ok := errors.AsType[*isobus.Fault](err); ok {
		return &FileError{File: track.Source, Record: fault.Record, Place: fault.Place, What: fault.What}
	}
	if err != nil {
		return fmt.Errorf("read %s: %w", track.Source, err)
	}
	return nil
}

// logNotes takes the notes on a log.
type logNotes struct{ *tally }

func (n logNotes) Note(record int, lost bool, what string) { n.add(record, nil, lost, what) }
func (n logNotes) Count(what string)                       { n.count(0, false, what) }
func (n logNotes) Zoned() bool                             { return n.clock.zone != nil }
func (n logNotes) Unzoned(seconds float64) float64         { return n.unzoned(0, seconds) }
