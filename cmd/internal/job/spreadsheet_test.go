package job

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"balk/export/vector"
	"balk/geo"
	"balk/geo/crs"
	"balk/geo/read"

	"golang.org/x/text/encoding/charmap"
)

// spreadsheet is one as somebody saves it as text.
type spreadsheet struct {
	name     string
	head     string // titles, apart by |: each with what is in it after =, see cell
	mark     string // between fields
	comma    bool   // a decimal comma
	down, up string // words of the work state
	encoding string // "" = UTF-8
	crs      int
}

// cell is what a column has of a fix; what is its letter.
func (s spreadsheet) cell(what string, f fix, speed float64) string {
	number := func(v float64, decimals int) string {
		text := strconv.FormatFloat(v, 'f', decimals, 64)
		if s.comma {
			text = strings.Replace(text, ".", ",", 1)
		}
		return text
	}
	x, y := f.at[0], f.at[1]
	if s.crs != 0 {
		p, _ := crs.FromEPSG(s.crs)
		x, y = p.Forward(x, y)
	}
	grouped := func(v float64) string { // 5.334.234,1234
		whole, part, _ := strings.Cut(strconv.FormatFloat(v, 'f', 4, 64), ".")
		for i := len(whole) - 3; i > 0; i -= 3 {
			whole = whole[:i] + "." + whole[i:]
		}
		return whole + "," + part
	}
	switch what {
	case "lon":
		return number(x, 9)
	case "lat":
		return number(y, 9)
	case "x":
		return number(x, 4)
	case "y":
		return number(y, 4)
	case "gx":
		return grouped(x)
	case "gy":
		return grouped(y)
	case "kmh":
		return number(speed*3.6, 2)
	case "ms":
		return number(speed, 3)
	case "state":
		if f.down {
			return s.down
		}
		return s.up
	case "number":
		return "7"
	}
	return f.when.Format(what)
}

func (s spreadsheet) write(t *testing.T, d driving) string {
	var b strings.Builder
	var cells []string
	for i, column := range strings.Split(s.head, "|") {
		title, what, _ := strings.Cut(column, "=")
		if cells = append(cells, what); i > 0 {
			b.WriteString(s.mark)
		}
		b.WriteString(title)
	}
	b.WriteString("\r\n")
	for _, f := range d {
		for i, what := range cells {
			if i > 0 {
				b.WriteString(s.mark)
			}
			b.WriteString(s.cell(what, f, 2))
		}
		b.WriteString("\r\n")
	}
	data := []byte(b.String())
	var err error
	switch s.encoding {
	case "cp1252":
		data, err = charmap.Windows1252.NewEncoder().Bytes(data)
	case "UTF-16":
		data = []byte{0xff, 0xfe}
		for _, u := range utf16.Encode([]rune(b.String())) {
			data = binary.LittleEndian.AppendUint16(data, u)
		}
	case "UTF-8 with its mark":
		data = append([]byte("\xef\xbb\xbf"), data...)
	}
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "log.csv")
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestAnySpreadsheet: one log as spreadsheets of four countries have it is the same drive as in GeoJSON: places, times, work states and
// speeds. Invented; what columns and words are called is common practice, no source.
func TestAnySpreadsheet(t *testing.T) {
	d := driven(time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC))
	l := vector.Layer{Name: "log", Kind: vector.Points, Columns: []vector.Property{{Name: "time", Holds: vector.Words}, {Name: "state", Holds: vector.Words}, {Name: "speed", Holds: vector.Number}}}
	for _, f := range d {
		l.Features = append(l.Features, vector.Feature{Geometry: f.at, Row: []any{f.when.Format(time.RFC3339), map[bool]string{true: "working", false: "lifted"}[f.down], 2.0}})
	}
	plain := toFile(t, filepath.Join(t.TempDir(), "log.geojson"), func(w io.Writer) error { return vector.WriteGeoJSON(w, l) })
	s := spec(t)
	want, _ := checked(t, s, plain)
	for _, c := range []spreadsheet{
		{name: "German, date and time apart", head: "Datum=02.01.2006|Uhrzeit=15:04:05|Breitengrad=lat|Längengrad=lon|Geschwindigkeit (km/h)=kmh|Arbeitsstellung=state", mark: ";", comma: true, down: "ein", up: "aus", encoding: "cp1252"},
		{name: "German, lifted or not", head: "Zeitstempel=02.01.2006 15:04:05|Länge=lon|Breite=lat|Tempo [km/h]=kmh|Ausgehoben=state", mark: ";", comma: true, down: "nein", up: "ja", encoding: "UTF-16"},
		{name: "German, by words of the tool", head: "Nr.=number|Länge (Grad)=lon|Breite (Grad)=lat|Datum/Uhrzeit=2.1.2006 15:04:05|Arbeitszustand=state|Fahrgeschwindigkeit m/s=ms", mark: "\t", comma: true, down: "Arbeitet", up: "ausgehoben", encoding: "UTF-8 with its mark"},
		{name: "German, on a map", head: "Datum=02.01.2006|Zeit=15:04:05|Rechtswert=x|Hochwert=y|Geschwindigkeit_kmh=kmh|in Arbeit=state", mark: ";", comma: true, down: "wahr", up: "falsch", crs: 25832},
		{name: "German, on a map, with dots between thousands", head: "Datum=02.01.2006|Zeit=15:04:05|Ostwert=gx|Nordwert=gy|Geschwindigkeit_kmh=kmh|Arbeit=state", mark: ";", comma: true, down: "EIN", up: "AUS", crs: 25832},
		{name: "French", head: "Date=02/01/2006|Heure=15:04:05|Latitude (degrés)=lat|Longitude (degrés)=lon|Vitesse (km/h)=kmh|État de travail=state", mark: ";", comma: true, down: "Oui", up: "Non", encoding: "cp1252"},
		{name: "French, raised or not", head: "Horodatage=2006-01-02 15:04:05|longitude=lon|latitude=lat|vitesse d'avancement m/s=ms|Relevé=state", mark: ",", down: "non", up: "oui"},
		{name: "French, on a map", head: "Date et heure=02/01/2006 15:04:05|Abscisse=x|Ordonnée=y|Vitesse km/h=kmh|Travail=state", mark: ";", comma: true, down: "marche", up: "arrêt", crs: 25832},
		{name: "Spanish", head: "Fecha=02/01/2006|Hora=15:04:05|Latitud=lat|Longitud=lon|Velocidad (km/h)=kmh|Trabajando=state", mark: ";", comma: true, down: "Sí", up: "No", encoding: "cp1252"},
		{name: "Spanish, on a map", head: "Fecha y hora=02/01/2006 15:04:05|Este=x|Norte=y|Velocidad (km/h)=kmh|Apero bajado=state", mark: ";", comma: true, down: "verdadero", up: "falso", crs: 25832},
		{name: "Dutch", head: "Datum=02-01-2006|Tijd=15:04:05|Breedtegraad=lat|Lengtegraad=lon|Snelheid (km/u)=kmh|Werkstand=state", mark: ";", comma: true, down: "aan", up: "uit"},
		{name: "Dutch, by length and breadth", head: "Datum en tijd=02-01-2006 15:04:05|Lengte=lon|Breedte=lat|Rijsnelheid km/h=kmh|Geheven=state", mark: ";", comma: true, down: "nee", up: "ja", encoding: "UTF-16"},
		{name: "English, from America", head: "Date=1/2/2006|Time=3:04:05 PM|Latitude=lat|Longitude=lon|Speed (km/h)=kmh|Implement down=state", mark: ",", down: "on", up: "off"},
		{name: "English, raised or not", head: "Timestamp=2006-01-02T15:04:05Z|Longitude=lon|Latitude=lat|Ground speed (m/s)=ms|Raised=state", mark: ",", down: "FALSE", up: "TRUE"},
		{name: "English, from Britain, on a map", head: "Date=02/01/2006|Time=15:04:05|Easting=x|Northing=y|Speed_kmh=kmh|Lifted=state", mark: ",", down: "lowered", up: "lifted", crs: 25832},
	} {
		path := c.write(t, d)
		one := s
		one.CRS = c.crs
		got, said := checked(t, one, path)
		if !sameGround(got.Balance, want.Balance) || got.Lost() {
			t.Errorf("%s: %+v, want %+v; said %s", c.name, got.Balance, want.Balance, said)
		}
		tracks, findings, err := read.Tracks(path, read.TrackOptions{Taking: read.Taking{CRS: c.crs}})
		if err != nil || len(tracks) != 1 || tracks[0].Fixes() != len(d) {
			t.Errorf("%s: %d tracks, %v, %v", c.name, len(tracks), findings, err)
			continue
		}
		track := tracks[0]
		flat := track.Line.FlatCoords()
		for k, f := range d {
			state := geo.Lifted
			if f.down {
				state = geo.Working
			}
			if off := math.Hypot(flat[3*k]-f.at[0], flat[3*k+1]-f.at[1]); off > 2e-9 || flat[3*k+2] != float64(f.when.Unix()) || track.State == nil || track.State[k] != state || track.Speed == nil || math.Abs(track.Speed[k]-2) > 1e-3 {
				t.Errorf("%s: fix %d at %.9f, %.9f, %.0f s, not as logged; %v; %v", c.name, k+1, flat[3*k], flat[3*k+1], flat[3*k+2], track.State != nil, findings)
				break
			}
		}
	}
}

// TestSwappedFiles: the log where the field is wanted, and the other way about.
func TestSwappedFiles(t *testing.T) {
	s := spec(t)
	log := formats[0].write(t, t.TempDir(), driven(noon))
	table := filepath.Join(t.TempDir(), "log.csv")
	if err := os.WriteFile(table, []byte("lon,lat\n11.5705,48.1402\n11.5707,48.1402\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	field := s.Boundary
	for _, c := range []struct {
		boundary string
		tracks   []string
		want     string
	}{
		{log, []string{field}, "these look swapped"}, {table, []string{field}, "these look swapped"}, {table, []string{log, field}, "these look swapped"},
		{log, []string{log}, "no field boundary in it"},
	} {
		one := s
		one.Boundary, one.Tracks, one.Out = c.boundary, c.tracks, ""
		_, err := Run(t.Context(), one, nil)
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), fmt.Sprint(filepath.Base(c.boundary))) {
			t.Errorf("%s, %s: %v", c.boundary, c.tracks, err)
		}
	}
}
