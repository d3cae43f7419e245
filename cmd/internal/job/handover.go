package job

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"balk/cmd/internal/folder"
	"balk/coverage"
	"balk/coverage/rework"
	"balk/coverage/rig"
	"balk/export/answer"
	"balk/export/record"
	"balk/export/sheet"
	"balk/export/sheet/paper"
	"balk/export/vector"
	"balk/export/words"
	"balk/geo"

	"github.com/paulmach/orb"
)

// HandoverSpec says what is handed over: a checked operation with what no log knows.
type HandoverSpec struct {
	Spec
	Paperwork
	// Again is the machine that would work the strips again; nil = the one that worked. Without
	// a turn radius there is no re-work plan.
	Again  *rig.Implement `json:"again,omitempty"`
	Rework rework.Options `json:"rework"`
	Gate   *orb.Point     `json:"gate,omitempty"` // lon, lat, where the way to the strips begins and ends
	Page   bool           `json:"page,omitempty"` // the page to look at the field too, in one file
	At     time.Time      `json:"at,omitzero"`    // of the files; zero = the end of the operation, or none where that is not logged
}

// Validate says what is wrong with s; it opens no files.
func (s HandoverSpec) Validate() error {
	if s.Out == "" {
		return fmt.Errorf("no folder named to hand over (--out)")
	}
	if err := s.Paperwork.Validate(s.Implement); err != nil {
		return err
	}
	if err := s.Rework.Validate(); err != nil {
		return err
	}
	return s.Spec.Validate()
}

// handoverVerb fills a folder with either handover.
const handoverVerb = "handover"

// The files of a handover.
const (
	handoverSheet    = "sheet.pdf"
	handoverRead     = "README.txt"
	handoverRecord   = "record.txt"
	handoverJSON     = "record.json"
	handoverKMZ      = "field.kmz"
	handoverGPX      = "strips.gpx"
	handoverPackage  = "field.gpkg"
	handoverShapes   = "shapefiles.zip"
	handoverStrips   = "strips.csv"
	handoverWKB      = "strips-wkb.csv"
	handoverPage     = "page.html"
	handoverTaskData = "TASKDATA/TASKDATA.XML"
	handoverThird    = "version3/TASKDATA/TASKDATA.XML"
)

// handoverNames are the names of the files of every handover.
func (s Spec) handoverNames() []string {
	names := []string{handoverRead, handoverSheet, handoverRecord, handoverJSON, mapFile, handoverKMZ, handoverGPX, handoverPackage, handoverShapes, handoverStrips, handoverWKB, handoverTaskData, handoverThird}
	for _, l := range append(s.layers(), vector.AlongLayer) {
		names = append(names, "geojson/"+l+".geojson")
	}
	return append(names, reportFile)
}

// perhapsNames are those of the files that depend on what is found.
func (s HandoverSpec) perhapsNames() []string {
	return append(append(s.Pictures.names(), reworkNames...), handoverPage)
}

// Handover checks one operation on one field and makes the folder for the
// contractor. Errors as Run.
func Handover(ctx context.Context, s HandoverSpec, call *Call) (Report, error) {
	call = call.ready()
	if err := s.Validate(); err != nil {
		return Report{Spec: s.Spec}, &WrongCall{err}
	}
	rep, result, err := judge(ctx, s.Spec, nil, &targets{s.Pictures.with(s.handoverNames()), s.perhapsNames()}, call)
	if err != nil {
		return rep, err
	}
	call.step("writing "+s.Out, s.steps()-1, s.steps())
	again, lines, err := s.rework(ctx, &rep, &result)
	if err != nil {
		return rep, err
	}
	files, findings, err := found(ctx, func() ([]output, []geo.Finding, error) { return s.files(&rep, result, lines) })
	if err != nil {
		return rep, err
	}
	files = append(files, again...)
	if s.Page {
		if call.Page == nil {
			return rep, errors.New("the page cannot be made here")
		}
		files = append(files, output{name: handoverPage, write: func(w io.Writer) error { return call.Page(w, rep, result, s.Language) }})
	}
	rep.Findings = append(rep.Findings, findings...)
	if err := call.fill(ctx, s.Out, handoverVerb, files, &rep.Placed, func(w io.Writer) error { return rep.JSON(w) }); err != nil {
		return rep, err
	}
	call.step("done", s.steps(), s.steps())
	return rep, nil
}

// files are those of the folder; guidance are lines to drive along, for the terminal.
func (s HandoverSpec) files(rep *Report, c coverage.Result, guidance []vector.Layer) ([]output, []geo.Finding, error) {
	details := s.Details
	if m := rep.Counters; m != nil {
		if details.Depth = m.Depth; details.Fuel == 0 && m.Tracks == m.Of {
			details.Fuel, details.FuelCounted = m.Fuel, m.Fuel > 0
		}
	}
	rec, err := record.Of(c, details)
	if err != nil {
		return nil, nil, err
	}
	name := rep.Field.title()
	layers, findings, err := s.layers(name, rep.told.Farm, c, guidance)
	if err != nil {
		return nil, nil, err
	}
	page := s.pageWith(rep.Spec.Implement)
	page.PerHour, page.PerMissed = s.Rework.PerHour, s.Rework.Value
	if rep.Rework != nil {
		page.Rework = &rep.Rework.Plan
	}
	pictures, err := s.Pictures.outputs(func() ([]*paper.Leaf, error) { return sheet.Pages(c, page) })
	if err != nil {
		return nil, nil, err
	}
	files := []output{
		{name: handoverRead, write: func(w io.Writer) error {
			_, err := io.WriteString(w, handoverText(name, answer.Slopes(s.Language, c.Slope, c.Strips, s.Work.Steep), s.Language))
			return err
		}},
		{name: handoverSheet, write: func(w io.Writer) error { return sheet.PDF(w, c, page) }},
		{name: handoverRecord, write: func(w io.Writer) error { return rec.Text(w, s.Language) }},
		{name: handoverJSON, write: rec.JSON},
	}
	drawn := s.Pictures.drawing(mapFile, func() (*paper.Leaf, error) { return sheet.Map(c, s.page()) })
	return slices.Concat(files, drawn, layers, pictures), findings, nil
}

// layers are the files for other programs. What a format cannot hold is said, and left out of it; it
// never stops the others.
func (s HandoverSpec) layers(name, farm string, c coverage.Result, guidance []vector.Layer) ([]output, []geo.Finding, error) {
	all, err := vector.LayersOf(c)
	if err == nil {
		for _, of := range []func(coverage.Result, func(coverage.Strip) string) (vector.Layer, error){vector.Along, vector.Places} {
			var l vector.Layer
			if l, err = of(c, s.place); err != nil {
				break
			}
			all = append(all, l)
		}
	}
	if broken, ok := errors.AsType[*vector.LayerError](err); ok {
		return nil, []geo.Finding{leftOut("all files for other programs", broken)}, nil
	}
	if err != nil {
		return nil, nil, err
	}
	along, places := &all[len(all)-2], &all[len(all)-1]
	missed := all[slices.IndexFunc(all, func(l vector.Layer) bool { return l.Name == "missed" })]
	at := s.At
	if at.IsZero() {
		at = endOf(c)
	}
	var findings []geo.Finding
	if c.Telling.Strips == coverage.GraspNone { // nobody is sent to a strip that may lie elsewhere
		along.Features, places.Features, missed.Features = nil, nil, nil
		findings = append(findings, geo.Finding{File: handoverStrips + ", " + handoverGPX + ", " + handoverTaskData, What: "hold no strips: the log cannot tell them"})
	}
	table := vector.CSV{BOM: true, DecimalComma: s.Language == words.German}
	files := []output{
		{name: handoverKMZ, write: func(w io.Writer) error { return vector.WriteKMZ(w, name, s.allInWords(all, c.Strips), at) }},
		{name: handoverGPX, write: func(w io.Writer) error {
			return vector.WriteGPX(w, name, []vector.Layer{inWords(s.Language, *places, c.Strips), inWords(s.Language, *along, c.Strips)}, at)
		}},
		{name: handoverPackage, place: func(ctx context.Context, path string) error { return vector.WriteGeoPackage(ctx, path, all, at) }},
		{name: handoverStrips, write: func(w io.Writer) error { return vector.WriteCSV(w, inWords(s.Language, missed, c.Strips), table) }},
		{name: handoverWKB, write: func(w io.Writer) error { return vector.WriteWKB(w, missed) }},
	}
	for _, layer := range vector.LayersIn(c) {
		files = append(files, output{name: "geojson/" + layer + ".geojson", write: func(w io.Writer) error { return vector.Write(w, layer, c) }})
	}
	files = append(files, output{name: "geojson/" + vector.AlongLayer + ".geojson", write: func(w io.Writer) error { return vector.WriteGeoJSON(w, *along) }})
	if len(along.Features) > 0 {
		byNumber := inWords(s.Language, *along, c.Strips) // a terminal has no room for longer names
		byNumber.Label = "strip"
		guidance = append(slices.Clone(guidance), byNumber)
	}
	fixes, err := vector.StateFixes(c)
	if err != nil {
		return nil, nil, err
	}
	tables := slices.Clone(all)
	tables[slices.IndexFunc(all, func(l vector.Layer) bool { return l.Name == fixes.Name })] = fixes
	shapes, lost := shapefiles(handoverShapes, tables, at)
	task := vector.TaskData{Maker: "balk", Version: "1", Customer: geo.Shown(s.Details.Client), Farm: geo.Shown(farm), Fields: []vector.TaskField{{Name: name, Area: c.Balance.Field, Boundary: c.Field.Boundary, Zones: []vector.Layer{inWords(s.Language, missed, c.Strips)}, Guidance: guidance}}}
	taskFile, more := taskData(handoverTaskData, task)
	task.Third = true
	third, _ := taskData(handoverThird, task) // what is cut short in it is so in the other
	return slices.Concat(files, shapes, taskFile, third), slices.Concat(findings, lost, more), nil
}

// place is the name of a strip on a phone: its number, how large it is, and along which pass it lies.
func (s HandoverSpec) place(strip coverage.Strip) string {
	name := fmt.Sprintf("%d · %s × %s m", strip.Number, s.Paperwork.Language.Digits(metres(strip.Length)), s.Paperwork.Language.Digits(metres(strip.MaxWidth)))
	if along := answer.Along(s.Paperwork.Language, strip); along != "" {
		name += " · " + along
	}
	return name
}

// metres has two digits that count, and no finer than centimetres.
func metres(m float64) string {
	switch {
	case m >= 9.95:
		return fmt.Sprintf("%.0f", m)
	case m >= 0.995:
		return fmt.Sprintf("%.1f", m)
	}
	return fmt.Sprintf("%.2f", m)
}

// said are the columns whose words are balk's own; all others come from files.
var said = []string{"cause", "surety", "activity", "why", "worked", "planned"}

// inWords puts what balk says in a layer into a language: its title and those of its columns, causes and the like, and how to get to strips.
// Names of columns stay as they are.
func inWords(in words.Language, l vector.Layer, strips []coverage.Strip) vector.Layer {
	titled := func(p vector.Property) vector.Property {
		p.Title = in.Word(cmp.Or(p.Title, p.Name))
		p.Comma = in == words.German && p.Name != "lon" && p.Name != "lat" // places are copied into a map
		p.Said = [2]string{in.Word("no"), in.Word("yes")}
		return p
	}
	l = shown(l)
	l.Title = in.Word(l.Title)
	l.Facts = slices.Clone(l.Facts)
	for i, f := range l.Facts {
		l.Facts[i].Property = titled(f.Property)
	}
	number := slices.IndexFunc(l.Columns, func(c vector.Property) bool { return c.Name == "strip" })
	l.Columns = slices.Clone(l.Columns)
	for k, c := range l.Columns {
		l.Columns[k] = titled(c)
		for _, f := range l.Features {
			english, ok := f.Row[k].(string)
			switch {
			case ok && slices.Contains(said, c.Name) && (c.Name != "planned" || english == vector.NonePlanned):
				f.Row[k] = in.Word(english)
			case ok && c.Name == "get_there" && number >= 0:
				i := slices.IndexFunc(strips, func(s coverage.Strip) bool { return s.Number == f.Row[number] })
				if i >= 0 {
					f.Row[k] = way(in, strips[i].Approach)
				}
			}
		}
	}
	return l
}

// forBoth is a layer for programs, whose words do not change, and for people who read a language.
func forBoth(in words.Language, of func(words.Language) vector.Layer) (programs, people vector.Layer) {
	return of(words.English), inWords(in, of(in), nil)
}

// way says how to get to a strip.
func way(l words.Language, a coverage.Approach) string {
	switch {
	case a.Pass == 0:
		return l.Word("no pass beside it")
	case a.Left:
		return l.Say("along pass %d, %.0f m from where it began, %.1f m to its left", a.Pass, a.Along, a.Aside)
	}
	return l.Say("along pass %d, %.0f m from where it began, %.1f m to its right", a.Pass, a.Along, a.Aside)
}

// shown is a layer with its words as people may read them.
func shown(l vector.Layer) vector.Layer {
	l.Features = slices.Clone(l.Features)
	for i := range l.Features {
		row := slices.Clone(l.Features[i].Row)
		for k, v := range row {
			if words, ok := v.(string); ok {
				row[k] = geo.Shown(words)
			}
		}
		l.Features[i].Row = row
	}
	return l
}

// shownOnPhone are the layers that a phone shows at once; all others wait until somebody asks for them.
var shownOnPhone = []string{"field", "missed", "places"}

// allInWords are the layers for a phone.
func (s HandoverSpec) allInWords(layers []vector.Layer, strips []coverage.Strip) []vector.Layer {
	var all []vector.Layer
	for _, l := range layers {
		l = inWords(s.Language, l, strips)
		l.Hidden = !slices.Contains(shownOnPhone, l.Name)
		all = append(all, l)
	}
	return all
}

// leftOut says that a file is not written, and why.
func leftOut(name string, err error) geo.Finding {
	return geo.Finding{File: name, What: fmt.Sprintf("left out: %v", err), Lost: true}
}

// taskData is a file of task data, and what had to be cut short in it, which is said
// before the folder is filled; no file where there can be none.
func taskData(name string, t vector.TaskData) ([]output, []geo.Finding) {
	var text bytes.Buffer
	file := output{name: name, write: func(w io.Writer) error { _, err := w.Write(text.Bytes()); return err }}
	return prepared(file, func() ([]geo.Finding, error) { return vector.WriteISOXML(&text, t) })
}

// shapefiles is a zip of shapefiles, as taskData.
func shapefiles(name string, layers []vector.Layer, at time.Time) ([]output, []geo.Finding) {
	file := output{name: name, write: func(w io.Writer) error { return vector.ZipShapefiles(w, layers, at) }}
	return prepared(file, func() ([]geo.Finding, error) { return vector.ShapefileFindings(name, layers) })
}

// prepared is a file once try has said what is lost in it: no file where try gives an error, and one that
// cannot be made where it panics.
func prepared(file output, try func() ([]geo.Finding, error)) (files []output, findings []geo.Finding) {
	err := folder.Safely(func() (err error) { findings, err = try(); return err })
	broken, panicked := errors.AsType[*folder.Panic](err)
	switch {
	case panicked:
		return []output{faulty(file.name, broken)}, nil
	case err != nil:
		return nil, []geo.Finding{leftOut(file.name, err)}
	}
	return []output{file}, findings
}

// endOf is when the operation ended, zero where that is not logged.
func endOf(c coverage.Result) time.Time {
	var end time.Time
	for _, p := range c.Passes {
		if geo.Dated(p.To) && p.To.After(end) {
			end = p.To
		}
	}
	return end
}

// handoverText says what is in the folder.
func handoverText(field, slopes string, l words.Language) string {
	caution := words.Wrap(l.AfterWork(), "") + "\n"
	if slopes != "" {
		caution = words.Wrap(slopes, "") + "\n\n" + caution
	}
	if l == words.German {
		return field + `: was bearbeitet wurde und was übrig ist

sheet.pdf                 das Blatt zum Drucken: Karte, Flächen, Streifen, Hinweise
record.txt, record.json   der Arbeitsnachweis
rework.*                  die Nacharbeit, falls geplant: Fahrten und Wege in ihrer Reihenfolge
map.svg                   die Karte: öffnet sich in jedem Browser
page.html                 der Schlag zum Ansehen, auch auf einem Telefon im Feld, ohne Netz (wenn bestellt)
strips.csv                die Fehlstreifen als Tabelle, mit ihren Orten
strips.gpx                ihre Orte und ihre Mitte als Linie für ein Telefon oder einen Handempfänger
field.kmz                 alles für ein Globusprogramm
field.gpkg, shapefiles.zip, geojson/   alles für ein Geoinformationssystem
strips-wkb.csv            die Fehlstreifen für eine Datenbank
TASKDATA/TASKDATA.XML     Grenze, Streifen und Linien entlang ihrer Mitte für ein Terminal im Schlepper (ISO 11783-10)
version3/TASKDATA         dasselbe für ein älteres Terminal (Version 3)
report.json               alle Zahlen: Flächen m2, Längen m, Zeiten UTC, Orte Länge und Breite (WGS84)

Die Nummern der Streifen sind überall dieselben.

` + caution
	}
	return field + `: what was worked, and what is left

sheet.pdf                 the sheet to print: map, areas, strips, cautions
record.txt, record.json   the record of the work
rework.*                  the re-work, where it is planned: passes and ways in their order
map.svg                   the map: opens in any browser
page.html                 the field to look at, on a phone in the field too, without a network (where asked for)
strips.csv                the missed strips as a table, with their places
strips.gpx                their places, and a line along the middle of each, for a phone or a hand-held receiver
field.kmz                 everything for a globe program
field.gpkg, shapefiles.zip, geojson/   everything for a geographic information system
strips-wkb.csv            the missed strips for a database
TASKDATA/TASKDATA.XML     boundary, strips and lines along their middle for a terminal in the tractor (ISO 11783-10)
version3/TASKDATA         the same for an older terminal (version 3)
report.json               all numbers: areas m2, lengths m, times UTC, places longitude and latitude (WGS84)

The numbers of the strips are the same everywhere.

` + caution
}
