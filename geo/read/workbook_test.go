package read

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"testing/fstest"
)

// bookOf is an invented workbook with sheets of these names and rows; styles: 1 is a date with a time, 2 a day, 3 a time, 4 a
// format of its own, 5 hours that run on, 6 a number.
func bookOf(t testing.TB, properties string, sheets ...string) []byte {
	book, relations := `<workbook xmlns:r="r"><workbookPr `+properties+`/><sheets>`, `<Relationships>`
	files := []any{
		"[Content_Types].xml", []byte("<Types/>"),
		"xl/styles.xml", []byte(`<styleSheet><numFmts><numFmt numFmtId="164" formatCode="[$-407]dd\.mm\.yyyy\ hh:mm:ss.000;@"/><numFmt numFmtId="165" formatCode="[h]:mm"/><numFmt numFmtId="166" formatCode="0.00&quot;days&quot;"/></numFmts>` +
			`<cellStyleXfs><xf numFmtId="0"/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="22"/><xf numFmtId="14"/><xf numFmtId="21"/><xf numFmtId="164"/><xf numFmtId="165"/><xf numFmtId="166"/></cellXfs></styleSheet>`),
		"xl/sharedStrings.xml", []byte(`<sst><si><t>lon</t></si><si><t>lat</t></si><si><r><t>ti</t></r><r><t>me</t></r><rPh><t>sound</t></rPh></si><si><t>speed_ms</t></si><si><t>a "wet", low place</t></si></sst>`),
	}
	for i := 0; i < len(sheets); i += 2 {
		book += fmt.Sprintf(`<sheet name="%s" sheetId="%d" r:id="rId%d"/>`, sheets[i], i+1, i+1)
		relations += fmt.Sprintf(`<Relationship Id="rId%d" Target="%sworksheets/s%d.xml"/>`, i+1, map[bool]string{true: "/xl/"}[i == 0], i)
		files = append(files, fmt.Sprintf("xl/worksheets/s%d.xml", i), []byte(`<?xml version="1.0" encoding="UTF-8"?><worksheet><cols><col min="1"/></cols><sheetData>`+sheets[i+1]+`</sheetData></worksheet>`))
	}
	files = append(files, "xl/workbook.xml", []byte(book+`</sheets></workbook>`), "xl/_rels/workbook.xml.rels", []byte(relations+`</Relationships>`))
	return zipOf(t, files...)
}

const sheetTitles = `<row r="3"><c r="A3" t="s"><v>0</v></c><c r="B3" t="s"><v>1</v></c><c r="D3" t="s"><v>2</v></c><c r="E3" t="s"><v>3</v></c></row>`

// In a workbook dates are days since 1899-12-30 (or 1904-01-01) whose cell has the format of a date: 45443.7293402778 is mayDay.
func TestWorkbook(t *testing.T) {
	place := `<c r="A5"><v>11.5</v></c><c r="B5"><v>48.1</v></c>`
	for _, c := range []struct{ name, properties, row, want string }{
		{"date and time", "", place + `<c r="D5" s="1"><v>45443.7293402778</v></c>`, "11.5,48.1@1717176615;"},
		{"a format of its own", "", place + `<c r="D5" s="4"><v>45443.7293402778</v></c><c r="E5"><v>2</v></c>`, "11.5,48.1@1717176615s2;"},
		{"days since 1904", `date1904="1"`, place + `<c r="D5" s="4"><v>43981.7293402778</v></c>`, "11.5,48.1@1717176615;"},
		{"as text", "", place + `<c r="D5" t="inlineStr"><is><t>5/31/2024 5:30:15 PM</t></is></c>`, "11.5,48.1@1717176615;"},
		{"a number of seconds", "", place + `<c r="D5"><v>1717176615</v></c>`, "11.5,48.1@1717176615;"},
		{"ISO 8601", "", place + `<c r="D5" t="d"><v>2024-05-31T17:30:15</v></c>`, "11.5,48.1@1717176615;"},
		{"a formula and its value", "", place + `<c r="D5" s="1"><f>B5+1</f><v>45443.7293402778</v></c><c r="E5" t="str"><f>x</f><v>2</v></c>`, "11.5,48.1@1717176615s2;"},
		{"an error as value", "", place + `<c r="E5" t="e"><v>#N/A</v></c>`, "11.5,48.1;"},
		{"cells without places", "", `<c><v>11.5</v></c><c><v>48.1</v></c><c t="s"><v>4</v></c><c s="1"><v>45443.7293402778</v></c>`, "11.5,48.1@1717176615;"},
		{"a text that does not exist", "", place + `<c r="E5" t="s"><v>99</v></c>`, "11.5,48.1;"},
	} {
		title := `<row r="1"><c r="A1" t="inlineStr"><is><t>Log of 31 May, Long Acre</t></is></c></row>`
		got := fromInput(bookOf(t, c.properties, "log", title+sheetTitles+`<row r="5">`+c.row+`</row>`))
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	// A column of the day and one of the time of day; findings name the row of the sheet.
	day := strings.NewReplacer(`t="s"><v>2<`, `t="inlineStr"><is><t>date</t></is><v><`, `t="s"><v>3<`, `t="inlineStr"><is><t>time</t></is><v><`).Replace(sheetTitles)
	book := bookOf(t, "", "log", day+`<row r="5">`+place+`<c r="D5" s="2"><v>45443</v></c><c r="E5" s="3"><v>0.7293402778</v></c></row><row r="70"><c r="A70" t="str"><v>x</v></c></row>`)
	tracks, findings, err := Tracks(StandardInput, TrackOptions{Files: &Files{Input: bytes.NewReader(book)}})
	if err != nil || inWords(tracks, nil, nil) != "11.5,48.1@1717176615;" || !strings.Contains(fmt.Sprint(findings), "standard input/log, record 70") {
		t.Errorf("%v, %v, %v", tracks, findings, err)
	}
	// Its sheets, and tables in any zip, are tables: columns named by hand are used, and nothing else is said.
	for what, data := range map[string][]byte{
		"a workbook":       bookOf(t, "", "log", sheetTitles+`<row r="5">`+place+`</row>`),
		"a table in a zip": zipOf(t, "log.csv", []byte("lon,lat,v\n11.5,48.1,3\n")),
		"GeoJSON in a zip": zipOf(t, "log.geojson", []byte(`{"type":"Point","coordinates":[11.5,48.1]}`)),
	} {
		tracks, findings, err := Tracks(StandardInput, TrackOptions{Files: &Files{Input: bytes.NewReader(data)}, Columns: map[string]string{"lon": "lon"}})
		said := strings.Contains(fmt.Sprint(findings), "columns named by hand are for tables")
		if err != nil || len(tracks) != 1 || said != (what == "GeoJSON in a zip") {
			t.Errorf("%s with a column by hand: %v, %v, %v", what, tracks, findings, err)
		}
	}
	for code, want := range map[string]momentKind{"General": noMoment, "0.00": noMoment, "yyyy-mm-dd": wholeDay, "h:mm AM/PM": timeOfDay, "m/d/yy h:mm": instant, `"day" 0`: noMoment, "[Red]0": noMoment, "[mm]:ss": timeOfDay, `0\d`: noMoment, "mmm": noMoment} {
		if got := dateKind(code); got != want {
			t.Errorf("the format %q shows %d, want %d", code, got, want)
		}
	}
}

func TestWorkbookOfSeveralSheets(t *testing.T) {
	row := func(lon string) string {
		return sheetTitles + `<row r="4"><c r="A4"><v>` + lon + `</v></c><c r="B4"><v>48</v></c></row>`
	}
	fields := `<row><c t="str"><v>name</v></c><c t="str"><v>wkt</v></c></row><row><c t="str"><v>North</v></c><c t="str"><v>POLYGON((11 48,11.001 48,11.001 48.001,11 48))</v></c></row>`
	book := bookOf(t, "", "Monday", row("11"), "Tuesday", row("12"), "fields", fields, "notes", `<row><c t="str"><v>hello</v></c></row>`)
	read := func(layers ...string) (string, error) {
		tracks, _, err := Tracks(StandardInput, TrackOptions{Taking: Taking{Layers: layers}, Files: &Files{Input: bytes.NewReader(book)}})
		return inWords(tracks, nil, nil), err
	}
	if _, err := read(); err == nil || !strings.Contains(err.Error(), "holds 2 layers of tracks, and none is chosen (--layer NAME):\n  Monday  (1 fix without time)\n  Tuesday") {
		t.Error(err)
	}
	for want, layers := range map[string][]string{"12,48;": {"tuesday"}, "11,48;12,48;": {"Tuesday", "Monday"}} {
		if got, err := read(layers...); err != nil || got != want {
			t.Errorf("%q: %q, %v", layers, got, err)
		}
	}
	found, findings, err := Fields(StandardInput, Options{Files: &Files{Input: bytes.NewReader(book)}})
	if err != nil || len(found) != 1 || found[0].Name != "North" || found[0].Number != 1 {
		t.Errorf("%v, %v", found, err)
	}
	for _, f := range findings {
		if f.Lost {
			t.Errorf("lost: %s", f)
		}
	}
}

func TestWorkbookBroken(t *testing.T) {
	good := sheetTitles + `<row r="4"><c r="A4"><v>11</v></c><c r="B4"><v>48</v></c></row>`
	for _, c := range []struct{ name, rows, want string }{
		{"rows backwards", good + `<row r="2"/>`, "11,48;"},
		{"a row beyond all", good + `<row r="99999999"/>`, "11,48;"},
		{"a cell beyond all", good + `<row r="5"><c r="ZZZZZ5"/></row>`, "11,48;"},
		{"cut off", good + `<row r="5"><c`, "11,48;"},
		{"no rows", "", "no table"},
	} {
		if got := fromInput(bookOf(t, "", "log", c.rows)); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	for name, files := range map[string][]any{
		"no sheets": {workbookName, []byte("<workbook/>")}, "no XML": {workbookName, []byte("x")},
		"a sheet that is not there": {workbookName, []byte(`<workbook><sheets><sheet name="a" id="r1"/></sheets></workbook>`)},
	} {
		if got := fromInput(zipOf(t, files...)); strings.Contains(got, ",48") || got == "" {
			t.Errorf("%s: %q", name, got)
		}
	}
}

func FuzzWorkbook(f *testing.F) {
	for _, rows := range []string{sheetTitles + `<row r="4"><c r="A4"><v>11</v></c><c r="B4"><v>48</v></c><c r="D4" s="1"><v>45443.7</v></c></row>`, `<row><c><v>1</v></c></row>`} {
		f.Add([]byte(`<worksheet><sheetData>`+rows+`</sheetData></worksheet>`), []byte(`<sst><si><t>lon</t></si><si><t>lat</t></si><si><t>time</t></si></sst>`), []byte(`<styleSheet><cellXfs><xf/><xf numFmtId="22"/></cellXfs></styleSheet>`))
	}
	f.Fuzz(func(t *testing.T, rows, shared, styles []byte) {
		fsys := fstest.MapFS{
			workbookName: {Data: []byte(`<workbook><sheets><sheet name="a" id="r1"/></sheets></workbook>`)}, "xl/_rels/workbook.xml.rels": {Data: []byte(`<R><Relationship Id="r1" Target="s.xml"/></R>`)},
			"xl/s.xml": {Data: rows}, "xl/sharedStrings.xml": {Data: shared}, "xl/styles.xml": {Data: styles},
		}
		tracks, findings, err := workbookTracks(fsys, "fuzz", TrackOptions{})
		if what := sound(tracks, findings, err); what != "" {
			t.Fatal(what)
		}
		fields, findings, err := workbookFields(fsys, "fuzz", Options{})
		holdFields(t, fields, findings, err)
	})
}
