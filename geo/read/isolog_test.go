package read

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"balk/geo"
)

// The demo set is invented: a seed drill of four sections of 1.5 m, the antenna
// 0.2 m left of its reference point, in a field with a pond, a hole and a pylon.
const demoTaskData = `<?xml version="1.0" encoding="UTF-8"?>
<ISO11783_TaskData VersionMajor="4" VersionMinor="2" DataTransferOrigin="2">
 <PFD A="PFD1" C="Long piece" D="0">
  <PLN A="1">
   <LSG A="1"><PNT A="2" C="50" D="10"/><PNT A="2" C="50" D="10.01"/><PNT A="2" C="50.01" D="10.01"/><PNT A="2" C="50.01" D="10"/><PNT A="2" C="50" D="10"/></LSG>
   <LSG A="2"><PNT A="2" C="50.001" D="10.001"/><PNT A="2" C="50.001" D="10.002"/><PNT A="2" C="50.002" D="10.002"/><PNT A="2" C="50.002" D="10.001"/></LSG>
  </PLN>
  <PLN A="6"><LSG A="1"><PNT A="2" C="50.005" D="10.005"/><PNT A="2" C="50.005" D="10.0051"/><PNT A="2" C="50.0051" D="10.005"/></LSG></PLN>
  <PLN A="3"><LSG A="1"><PNT A="2" C="50.02" D="10.02"/><PNT A="2" C="50.02" D="10.03"/><PNT A="2" C="50.03" D="10.03"/></LSG></PLN>
  <PLN A="4"><LSG A="1"><PNT A="2" C="50.009" D="10.009"/><PNT A="2" C="50.009" D="10.02"/><PNT A="2" C="50.0095" D="10.02"/></LSG></PLN>
  <PLN A="10"><LSG A="1"><PNT A="2" C="50" D="10"/><PNT A="2" C="50" D="10.01"/><PNT A="2" C="50.001" D="10.01"/></LSG></PLN>
 </PFD>
 <PFD A="PFD2" C="Long piece"><PLN A="9"><LSG A="1"><PNT C="51" D="10"/><PNT C="51" D="10.01"/><PNT C="51.01" D="10.01"/></LSG></PLN></PFD>
 <PFD A="PFD3"/>
 <DVC A="DVC1" B="drill">
  <DET A="DET1" B="1" C="1" E="0" F="0"/>
  <DET A="DET2" B="2" C="2" E="1" F="1"><DOR A="50"/><DOR A="56"/></DET>
  <DET A="DET3" B="3" C="4" E="2" F="2"><DOR A="51"/><DOR A="60"/></DET>
  <DET A="DET4" B="4" C="4" E="3" F="2"><DOR A="52"/><DOR A="60"/></DET>
  <DET A="DET5" B="5" C="4" E="4" F="2"><DOR A="53"/><DOR A="60"/></DET>
  <DET A="DET6" B="6" C="4" E="5" F="2"><DOR A="54"/><DOR A="60"/></DET>
  <DET A="DET7" B="7" C="7" E="6" F="1"><DOR A="55"/><DOR A="57"/></DET>
  <DPT A="50" B="0046" C="6000"/>
  <DPT A="51" B="0087" C="-2250"/><DPT A="52" B="0087" C="-750"/><DPT A="53" B="0087" C="750"/><DPT A="54" B="0087" C="2250"/>
  <DPT A="56" B="0086" C="-1500"/><DPT A="57" B="0086" C="2000"/>
  <DPT A="55" B="0087" C="-200"/><DPT A="60" B="0043" C="1500"/>
 </DVC>
 <TSK A="TSK1" B="Sowing" E="PFD1" G="4"><TLG A="TLG00001"/></TSK>
</ISO11783_TaskData>`

// demoHeader logs work state and sections of the function, speed and distance.
const demoHeader = `<TIM A="" D="4"><PTN A="" B="" C="412000" D="" F="" H="" I=""/>
<DLV A="008D" B="" C="DET2"/><DLV A="00A1" B="" C="DET2"/><DLV A="018D" B="" C="DET1"/><DLV A="0075" B="" C="DET1"/></TIM>`

// demoRecord is a record for demoHeader; values are index, value, index, value ...
func demoRecord(ms uint32, lat, lon int32, status uint8, gpsMS uint32, values ...int32) []byte {
	b := binary.LittleEndian.AppendUint32(nil, ms)
	b = binary.LittleEndian.AppendUint16(b, 16000)
	b = binary.LittleEndian.AppendUint32(b, uint32(lat))
	b = binary.LittleEndian.AppendUint32(b, uint32(lon))
	b = append(b, status)
	b = binary.LittleEndian.AppendUint16(b, 12)
	b = binary.LittleEndian.AppendUint32(b, gpsMS)
	b = binary.LittleEndian.AppendUint16(b, 16000)
	b = append(b, byte(len(values)/2))
	for i := 0; i+1 < len(values); i += 2 {
		b = append(b, byte(values[i]))
		b = binary.LittleEndian.AppendUint32(b, uint32(values[i+1]))
	}
	return b
}

// demoLog works with all sections, with the two on the right, with the outer
// two, with none, and is lifted.
func demoLog() []byte {
	return bytes.Join([][]byte{
		demoRecord(1000, 500000000, 100000000, 4, 3601000),
		demoRecord(2000, 500000100, 100000000, 15, 3602000, 0, 1, 1, 0x55, 2, 2500, 3, 1000),
		demoRecord(3000, 500000200, 100000000, 5, 3603000, 1, 0x50, 3, 3500),
		demoRecord(4000, 500000300, 100000000, 0, 3604000, 1, 0x41),
		demoRecord(5000, math.MaxInt32, math.MaxInt32, 15, 3605000, 2, 2600),
		demoRecord(6000, 500000400, 100000000, 2, 3606000, 1, 0),
		demoRecord(7000, 500000500, 100000000, 1, 3607000, 0, 0, 1, 0x55, 3, 400),
	}, nil)
}

func demoSet(log []byte) fstest.MapFS {
	return fstest.MapFS{
		"set/TaskData.xml": {Data: []byte(demoTaskData)},
		"set/tlg00001.XML": {Data: []byte(demoHeader)},
		"set/TLG00001.bin": {Data: log},
	}
}

func demoTracks(t *testing.T, fsys fstest.MapFS) (geo.Track, []geo.Finding, error) {
	t.Helper()
	tracks, findings, err := isoxmlTracks(fsys, "set/TaskData.xml", "set/TaskData.xml")
	if err != nil {
		return geo.Track{}, findings, err
	}
	if len(tracks) != 1 {
		t.Fatalf("%d tracks", len(tracks))
	}
	return tracks[0], findings, nil
}

// Who worked with what for whom, as the set names it; names and sets are invented.
func TestTaskDataTellsWho(t *testing.T) {
	const who = `<CTR A="CTR1" B="Meadow" C="Ada"/><FRM A="FRM1" B="North Farm" C="Lane 3"/><FRM A="FRM2" B="South Farm"/><WKR A="WKR1" B="Field" C="Ben"/><WKR A="WKR2" B="Hill"/><DVC A="DVC2" B="tractor"/><DVC A="DVC3" B="not there"/>`
	for _, c := range []struct {
		name, task, field string
		want              geo.Told
	}{
		{"all by the task", `C="CTR1" D="FRM1" F="WKR1" ><DAN C="DVC1"/><DAN C="DVC2"/`, "", geo.Told{Machine: "drill, tractor", Driver: "Ben Field", Farm: "North Farm"}},
		{"a worker allocated, the farm of the field", `><WAN A="WKR2"/><DAN C="DVC2"/`, `F="FRM2"`, geo.Told{Machine: "tractor", Driver: "Hill", Farm: "South Farm"}},
		{"a customer alone, devices not allocated", `C="CTR1"><X/`, "", geo.Told{Machine: "drill, tractor, not there", Farm: "Ada Meadow"}},
		{"names of nobody", `C="CTR9" D="FRM9" F="WKR9"><DAN C="DVC9"/`, "", geo.Told{}},
	} {
		text := strings.Replace(demoTaskData, `<TSK A="TSK1" B="Sowing" E="PFD1" G="4">`, who+`<TSK A="TSK1" B="Sowing" E="PFD1" G="4" `+c.task+`>`, 1)
		text = strings.Replace(text, `<PFD A="PFD1"`, `<PFD A="PFD1" `+c.field, 1)
		set := demoSet(demoLog())
		set["set/TaskData.xml"].Data = []byte(text)
		track, _, err := demoTracks(t, set)
		if err != nil || track.Told != c.want {
			t.Errorf("%s: %+v, %v, want %+v", c.name, track.Told, err, c.want)
		}
	}
}

func same(a, b float64) bool {
	return math.Abs(a-b) < 1e-9 || math.IsNaN(a) && math.IsNaN(b)
}

func sameAll(t *testing.T, what string, got, want []float64) {
	t.Helper()
	ok := len(got) == len(want)
	for i := range got {
		ok = ok && same(got[i], want[i])
	}
	if !ok {
		t.Errorf("%s %v, want %v", what, got, want)
	}
}

func found(findings []geo.Finding, text string) *geo.Finding {
	for i, f := range findings {
		if strings.Contains(f.What, text) {
			return &findings[i]
		}
	}
	return nil
}

func TestSectionsGiveWidthAndOffset(t *testing.T) {
	track, findings, err := demoTracks(t, demoSet(demoLog()))
	if err != nil {
		t.Fatal(err)
	}
	if track.Name != "Sowing (TSK1, TLG00001)" || track.FieldRef != "Long piece (PFD1)" || track.Source != "set/TLG00001.bin" {
		t.Errorf("%q on %q from %q", track.Name, track.FieldRef, track.Source)
	}
	sameAll(t, "width", track.Width, []float64{6, 6, 3, 3, 6, 6})
	sameAll(t, "offset", track.Offset, []float64{0.2, 0.2, 1.7, 0.2, 0.2, 0.2})
	sameAll(t, "speed", track.Speed, []float64{math.NaN(), 2.5, 2.5, 2.5, 2.6, 2.6})
	sameAll(t, "HDOP", track.HDOP, []float64{1.2, 1.2, 1.2, 1.2, 1.2, 1.2})
	if got, want := fmt.Sprint(track.State), fmt.Sprint([]geo.WorkState{geo.StateUnknown, geo.Working, geo.Working, geo.Working, geo.Lifted, geo.Lifted}); got != want {
		t.Errorf("states %s, want %s", got, want)
	}
	if got, want := fmt.Sprint(track.Quality), fmt.Sprint([]geo.Quality{geo.QualityFixed, geo.QualityUnknown, geo.QualityFloat, geo.QualityNone, geo.QualityDifferential, geo.QualitySingle}); got != want {
		t.Errorf("qualities %s, want %s", got, want)
	}
	flat := track.Line.FlatCoords() // 16000 days after 1980-01-01 is 2023-10-22; the receiver's clock, an hour ahead
	if want := float64(1697932800 + 3601); flat[2] != want || flat[0] != 10 || flat[1] != 50 {
		t.Errorf("first fix %v, want 10 50 %v", flat[:3], want)
	}
	if c := track.Counted; c == nil || c.Working != 2.9 || !math.IsNaN(c.Idle) {
		t.Errorf("counted %+v, want 2.5 m and, begun again, 0.4 m", c)
	}
	for _, want := range []string{"a record without position", "working distance fell 1 times", "1 times sections between working ones were off", "puts the antenna 3.5 m ahead of the working element"} {
		if found(findings, want) == nil {
			t.Errorf("no finding %q in %v", want, findings)
		}
	}
}

// Of the drill, its first two sections are a bar called coarse and the last two one called fine, each with a work state of its own.
func TestOneComponentOfTheImplement(t *testing.T) {
	set := func() fstest.MapFS {
		set := demoSet(bytes.Join([][]byte{
			demoRecord(1000, 500000000, 100000000, 4, 3601000, 0, 0, 1, 0),
			demoRecord(2000, 500000100, 100000000, 4, 3602000, 0, 1),
			demoRecord(3000, 500000200, 100000000, 4, 3603000, 1, 1),
			demoRecord(4000, 500000300, 100000000, 4, 3604000, 0, 0),
		}, nil))
		text := strings.NewReplacer(`<DET A="DET3" B="3" C="4" E="2" F="2">`, `<DET A="DET8" B="8" C="2" D="coarse" E="7" F="2"/><DET A="DET9" B="9" C="2" D="fine" E="8" F="2"/><DET A="DET3" B="3" C="4" E="2" F="8">`,
			`C="4" E="3" F="2"`, `C="4" E="3" F="8"`, `C="4" E="4" F="2"`, `C="4" E="4" F="9"`, `C="4" E="5" F="2"`, `C="4" E="5" F="9"`).Replace(demoTaskData)
		set["set/TaskData.xml"].Data = []byte(text)
		set["set/tlg00001.XML"].Data = []byte(`<TIM A="" D="4"><PTN A="" B="" C="412000" D="" F="" H="" I=""/><DLV A="008D" B="" C="DET8"/><DLV A="008D" B="" C="DET9"/><DLV A="018D" B="" C="DET1"/><DLV A="0075" B="" C="DET1"/></TIM>`)
		return set
	}
	for _, c := range []struct {
		component string
		states    []geo.WorkState
		width     float64 // m, of both its sections
		offset    float64 // m, of their middle right of the antenna, which is 0.2 m left of the reference point
	}{
		{"coarse", []geo.WorkState{geo.Lifted, geo.Working, geo.Working, geo.Lifted}, 3, -1.5 + 0.2},
		{"FINE", []geo.WorkState{geo.Lifted, geo.Lifted, geo.Working, geo.Working}, 3, 1.5 + 0.2},
		{"DET9", []geo.WorkState{geo.Lifted, geo.Lifted, geo.Working, geo.Working}, 3, 1.5 + 0.2},
		{"", []geo.WorkState{geo.Lifted, geo.Working, geo.Working, geo.Working}, 3, -1.5 + 0.2}, // either works; the first of the two functions tells where
	} {
		files := set()
		tracks, findings, err := ISOXMLTracks(files, "set/TaskData.xml", "set/TaskData.xml", TrackOptions{Component: c.component})
		if err != nil || len(tracks) != 1 {
			t.Fatalf("%q: %d tracks, %v, %v", c.component, len(tracks), findings, err)
		}
		if !slices.Equal(tracks[0].State, c.states) {
			t.Errorf("%q: states %v, want %v", c.component, tracks[0].State, c.states)
		}
		if w, o := tracks[0].Bar, tracks[0].Offset; !same(w, c.width) || len(o) == 0 || !same(o[0], c.offset) {
			t.Errorf("%q: %g m wide at %v, want %g and %g", c.component, w, o, c.width, c.offset)
		}
	}
	files := set()
	_, _, err := ISOXMLTracks(files, "set/TaskData.xml", "set/TaskData.xml", TrackOptions{Component: "seed"})
	if err == nil || !strings.Contains(err.Error(), `no component "seed" has its work state in it: those that have are`) || !strings.Contains(err.Error(), `DET9 "fine"`) {
		t.Error(err)
	}
	files["set/TaskData.xml"].Data = bytes.Replace(files["set/TaskData.xml"].Data, []byte(`"fine"`), []byte(`"coarse"`), 1)
	if _, _, err = ISOXMLTracks(files, "set/TaskData.xml", "set/TaskData.xml", TrackOptions{Component: "coarse"}); err == nil || !strings.Contains(err.Error(), `2 components are called "coarse"`) {
		t.Error(err)
	}
	files["set/TaskData.xml"].Data = []byte(`<ISO11783_TaskData VersionMajor="4"><TSK A="TSK1"><TLG A="TLG00001"/></TSK></ISO11783_TaskData>`) // no description
	if tracks, _, err := ISOXMLTracks(files, "set/TaskData.xml", "set/TaskData.xml", TrackOptions{Component: "DET9"}); err != nil || tracks[0].State[1] != geo.Lifted {
		t.Error(err)
	}
}

func TestLogWithoutReceiverTimeKeepsItsOwnClock(t *testing.T) {
	var log []byte
	for i := range uint32(5) {
		log = append(log, demoRecord(1000*i, 500000000+int32(i), 100000000, 4, 0xffffffff)...)
	}
	track, findings, err := demoTracks(t, demoSet(log))
	if err != nil {
		t.Fatal(err)
	}
	if flat := track.Line.FlatCoords(); flat[5] != 1697932801 || found(findings, "local time without zone") == nil {
		t.Errorf("second fix at %f, %v", flat[5], findings)
	}
	// Most records with the receiver's time: the others are left open, never filled from the other clock.
	log = append(demoLog(), demoRecord(8000, 500000600, 100000000, 1, 0xffffffff)...)
	track, findings, err = demoTracks(t, demoSet(log))
	if err != nil {
		t.Fatal(err)
	}
	if flat := track.Line.FlatCoords(); !math.IsNaN(flat[len(flat)-1]) || found(findings, "1 of 7 fixes have no time from the receiver") == nil {
		t.Errorf("last fix %v, %v", flat[len(flat)-3:], findings)
	}
}

// Every way a log can break: what comes before is used, one finding says where.
func TestBrokenLogsGiveWhatIsGood(t *testing.T) {
	good := demoLog()
	for _, c := range []struct {
		name, want string
		tail       []byte
	}{
		{"cut off in the head of a record", "unreadable from byte 228 on, the 7 records before are used: it has 9 bytes, at least 24 are needed", demoRecord(8000, 1, 1, 4, 1)[:9]},
		{"cut off in the values", "it has 26 bytes, its 1 values need 29", demoRecord(8000, 1, 1, 4, 1, 0, 1)[:26]},
		{"more values than the header lists", "it claims 5 values, the header lists 4", demoRecord(8000, 1, 1, 4, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1)},
		{"a value the header does not list", "value 2 has the index 4 (at byte 257), the header lists 4", demoRecord(8000, 1, 1, 4, 1, 0, 1, 4, 1)},
		{"no time of day", "4294967295 ms is no time of day, the limit is 86400999", demoRecord(math.MaxUint32, 1, 1, 4, 1)},
	} {
		t.Run(c.name, func(t *testing.T) {
			track, findings, err := demoTracks(t, demoSet(append(good[:len(good):len(good)], c.tail...)))
			if err != nil || track.Fixes() != 6 {
				t.Fatalf("%d fixes, %v", track.Fixes(), err)
			}
			if f := found(findings, c.want); f == nil || !f.Lost || f.Record != 8 || f.File != "set/TLG00001.bin" {
				t.Errorf("findings %v, want one of record 8 with %q", findings, c.want)
			}
			if _, _, err := demoTracks(t, demoSet(c.tail)); err == nil || !strings.Contains(err.Error(), "record 1, byte 0") {
				t.Errorf("alone: %v", err)
			}
		})
	}
	for n := range len(good) { // at every byte
		track, findings, err := demoTracks(t, demoSet(good[:n]))
		if err == nil && track.Fixes() == 0 || err != nil && n > 24 {
			t.Fatalf("cut at %d: %d fixes, %v, %v", n, track.Fixes(), findings, err)
		}
	}
}

func TestHeadersThatCannotBeUsed(t *testing.T) {
	for _, c := range []struct{ name, header, want string }{
		{"no XML", "x", "EOF"},
		{"another root", "<PTN/>", "its root is <PTN>, <TIM> is wanted"},
		{"time not in the record", `<TIM A="2020-01-01T00:00:00"><PTN A="" B=""/></TIM>`, "the empty string is wanted"},
		{"no position", `<TIM A=""/>`, "0 positions (PTN)"},
		{"latitude fixed", `<TIM A=""><PTN A="50" B=""/></TIM>`, "no latitude and longitude in a record"},
		{"DDI no number", `<TIM A=""><PTN A="" B=""/><DLV A="xyz" B="" C="DET1"/></TIM>`, `the DDI "xyz"`},
		{"a fixed value no number", `<TIM A=""><PTN A="" B=""/><DLV A="0043" B="x" C="DET1"/></TIM>`, `fixed at "x"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			set := demoSet(demoLog())
			set["set/tlg00001.XML"].Data = []byte(c.header)
			if _, _, err := demoTracks(t, set); err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "set/TLG00001.bin") {
				t.Errorf("%v, want %q", err, c.want)
			}
		})
	}
}

// Attributes with a value in the header are constants and not in the record.
func TestConstantsOfTheHeader(t *testing.T) {
	set := demoSet(nil)
	set["set/tlg00001.XML"].Data = []byte(`<TIM A=""><PTN A="" B="" D="4" F="0.9"/><DLV A="0043" B="3000" C="DET2"/><DLV A="0043" B="" C="DET99"/></TIM>`)
	b := []byte{0xe8, 3, 0, 0, 0x80, 0x3e}
	b = binary.LittleEndian.AppendUint32(b, 500000000)
	b = binary.LittleEndian.AppendUint32(b, 100000000)
	set["set/TLG00001.bin"].Data = append(b, 0)
	track, findings, err := demoTracks(t, set)
	if err != nil {
		t.Fatal(err)
	}
	sameAll(t, "width", track.Width, []float64{3})
	sameAll(t, "HDOP", track.HDOP, []float64{0.9})
	if len(track.Quality) != 1 || track.Quality[0] != geo.QualityFixed || track.State != nil {
		t.Errorf("quality %v, states %v", track.Quality, track.State)
	}
	if found(findings, "the width is logged for 2 elements (DET2, DET99): that of DET2 is used") == nil {
		t.Errorf("findings %v", findings)
	}
}

func TestFieldsOfTaskData(t *testing.T) {
	fields, findings, err := ISOXMLFields(demoSet(nil), "set/TaskData.xml", "set/TaskData.xml", Options{})
	if err != nil || len(fields) != 2 {
		t.Fatalf("%d fields, %v", len(fields), err)
	}
	if fields[0].Name != "Long piece (PFD1)" || fields[1].Name != "Long piece (PFD2)" {
		t.Errorf("%q, %q", fields[0].Name, fields[1].Name)
	}
	if len(fields[0].Boundary) != 1 || len(fields[0].Boundary[0]) != 3 { // the hole and the pylon
		t.Errorf("boundary %v, want two holes", fields[0].Boundary)
	}
	for _, want := range []struct {
		what string
		lost bool
	}{
		{"an obstacle does not lie on the ground of the field", false}, // the pond
		{"an obstacle is left out", true},                              // the building across the edge
		{"a polygon of type headland is no boundary", false},
		{"its main field is taken", false},
		{"a part field without boundary: left out", true},
		{"a ring is open: closed (5 times", false},
	} {
		if f := found(findings, want.what); f == nil || f.Lost != want.lost {
			t.Errorf("no finding %q (lost: %t) in %v", want.what, want.lost, findings)
		}
	}
}

func TestTaskDataInPieces(t *testing.T) {
	set := demoSet(demoLog())
	body, rest, _ := strings.Cut(demoTaskData, "<DVC")
	device, rest, _ := strings.Cut("<DVC"+rest, "<TSK")
	set["set/TaskData.xml"].Data = []byte(body + `<XFR A="DVC00001" B="1"/><XFR A="VPN00001" B="1"/><TSK` + rest)
	set["set/dvc00001.xml"] = &fstest.MapFile{Data: []byte("<XFC>" + device + "</XFC>")}
	track, findings, err := demoTracks(t, set)
	if err != nil {
		t.Fatal(err)
	}
	sameAll(t, "width", track.Width, []float64{6, 6, 3, 3, 6, 6})
	if f := found(findings, "VPN00001.XML, a part of the task data, is not there"); f == nil || !f.Lost {
		t.Errorf("findings %v", findings)
	}
	// Cut off before the tasks: the log is found by its name.
	set = demoSet(demoLog())
	set["set/TaskData.xml"].Data = []byte(demoTaskData[:strings.Index(demoTaskData, "<TSK")])
	track, findings, err = demoTracks(t, set)
	if err != nil || track.Fixes() != 6 {
		t.Fatal(track.Fixes(), err)
	}
	if f := found(findings, "TaskData.xml is unreadable from byte"); f == nil || !f.Lost || found(findings, "named by no task") == nil {
		t.Errorf("findings %v", findings)
	}
}

func TestZippedTaskData(t *testing.T) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, f := range demoSet(demoLog()) {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(f.Data); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	tracks, _, err := tracksInZip(bytes.NewReader(b.Bytes()), int64(b.Len()), "x.zip")
	if err != nil || len(tracks) != 1 || tracks[0].Fixes() != 6 || tracks[0].Source != "x.zip/set/TLG00001.bin" {
		t.Errorf("%v, %v", tracks, err)
	}
	fields, _, err := zipFields(&source{at: bytes.NewReader(b.Bytes()), size: int64(b.Len()), file: "x.zip"}, Options{})
	if err != nil || len(fields) != 2 {
		t.Errorf("%d fields, %v", len(fields), err)
	}
}

func FuzzTaskData(f *testing.F) {
	f.Add([]byte(demoTaskData), []byte(demoHeader), demoLog())
	f.Add([]byte(demoTaskData), []byte(`<TIM A=""><PTN A="" B="" D="4" F="0.9"/><DLV A="0043" B="3000" C="DET3"/></TIM>`), demoLog())
	f.Add([]byte(`<ISO11783_TaskData><DVC><DET A="D" B="1" C="4" F="1"/></DVC><TSK><TLG A="TLG00001"/></TSK></ISO11783_TaskData>`), []byte(`<TIM A=""><PTN A="" B="" D=""/><DLV A="00A2" B="" C="D"/><DLV A="008D" B="" C="D"/></TIM>`), demoLog()[:100])
	f.Fuzz(func(t *testing.T, data, header, log []byte) {
		set := fstest.MapFS{"TASKDATA.XML": {Data: data}, "TLG00001.XML": {Data: header}, "TLG00001.BIN": {Data: log}}
		tracks, findings, err := isoxmlTracks(set, "TASKDATA.XML", "fuzz")
		if err != nil && (tracks != nil || findings != nil) || err == nil && len(tracks) == 0 {
			t.Fatalf("%d tracks, %v, %v", len(tracks), findings, err)
		}
		for _, tr := range tracks {
			n := tr.Fixes()
			if n == 0 || 15*n > len(log) {
				t.Fatalf("%d fixes of %d bytes", n, len(log))
			}
			for _, k := range []int{len(tr.State), len(tr.Width), len(tr.Offset), len(tr.Speed), len(tr.Quality), len(tr.HDOP)} {
				if k != 0 && k != n {
					t.Fatalf("%d values for %d fixes", k, n)
				}
			}
		}
		fields, findings, err := ISOXMLFields(set, "TASKDATA.XML", "fuzz", Options{})
		if err != nil && (fields != nil || findings != nil) || err == nil && len(fields) == 0 {
			t.Fatalf("%d fields, %v, %v", len(fields), findings, err)
		}
	})
}

// BenchmarkTaskDataLog reads records like those of the open logs: a position
// with status, width, state, four sections changing, and counters.
func BenchmarkTaskDataLog(b *testing.B) {
	for _, n := range []int{1_000, 100_000, 1_000_000} {
		var log []byte
		for i := range n {
			v := []int32{2, int32(2000 + i%100), 3, int32(2 * i)}
			if i%50 == 0 {
				v = append(v, 0, int32(i/50%2), 1, int32([]int{0x55, 0x50, 0x05, 0}[i/50%4]))
			}
			log = append(log, demoRecord(uint32(i%86400000), 500000000+int32(i%1000), 100000000+int32(i/1000), 4, uint32(i), v...)...)
		}
		set := demoSet(log)
		b.Run(fmt.Sprintf("records=%d", n), func(b *testing.B) {
			b.SetBytes(int64(len(log)))
			b.ReportAllocs()
			for b.Loop() {
				tracks, _, err := isoxmlTracks(set, "set/TaskData.xml", "bench")
				if err != nil || len(tracks) != 1 || tracks[0].Fixes() != n || len(tracks[0].Width) != n {
					b.Fatal(len(tracks), err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/fix")
		})
	}
}

// Depth and seed rate are means over the fixes at work, fuel what its counter rose by; the log is
// invented. A counter that is logged for two elements counts once, and that is said.
func TestDepthRateAndFuelOfALog(t *testing.T) {
	set := demoSet(bytes.Join([][]byte{
		demoRecord(1000, 500000000, 100000000, 4, 3601000, 0, 0, 1, 90, 2, 12_000, 3, 40_000, 4, 7),
		demoRecord(2000, 500000100, 100000000, 4, 3602000, 0, 1, 1, 70, 3, 40_500),
		demoRecord(3000, 500000200, 100000000, 4, 3603000, 1, 80, 2, 14_000, 4, 900_000),
		demoRecord(4000, 500000300, 100000000, 4, 3604000, 0, 0, 1, 0, 3, 42_000),
	}, nil))
	set["set/tlg00001.XML"].Data = []byte(`<TIM A="" D="4"><PTN A="" B="" C="412000" D="" F="" H="" I=""/>
<DLV A="008D" B="" C="DET2"/><DLV A="0034" B="" C="DET2"/><DLV A="0007" B="" C="DET2"/><DLV A="0094" B="" C="DET1"/><DLV A="0094" B="" C="DET2"/></TIM>`)
	track, findings, err := demoTracks(t, set)
	if err != nil || track.Counted == nil {
		t.Fatal(err, track.Counted)
	}
	c := *track.Counted
	sameAll(t, "depth m, kg/m², fuel l, way m", []float64{c.Depth, c.Mass, c.Fuel, c.Working}, []float64{0.075, 0.013, 2, math.NaN()})
	if found(findings, "DDIs [148] are logged for more than one element") == nil {
		t.Error(findings)
	}
}
