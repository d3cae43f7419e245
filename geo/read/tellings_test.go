package read

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"balk/geo"
)

// TestColumnsTellWho: the columns and properties that name machine, driver and farm are told of the track, where all that name
// one name the same; in a table by words of five languages.
func TestColumnsTellWho(t *testing.T) {
	for _, c := range []struct {
		situation string
		titles    [3]string
		rows      [][3]string
		want      geo.Told
	}{
		{"all alike", [3]string{"machine", "driver", "farm"}, [][3]string{{"Red 12", "Ada", "Meadow"}, {"Red 12", "Ada", "Meadow"}, {"Red 12", "Ada", "Meadow"}}, geo.Told{Machine: "Red 12", Driver: "Ada", Farm: "Meadow"}},
		{"German, some empty", [3]string{"Fahrzeug", "Fahrer", "Betrieb"}, [][3]string{{"", "Ada", ""}, {"Red 12", "", "Hof"}, {"Red 12", "Ada", ""}}, geo.Told{Machine: "Red 12", Driver: "Ada", Farm: "Hof"}},
		{"two drivers", [3]string{"vehicle", "operator", "client"}, [][3]string{{"Red 12", "Ada", "Meadow"}, {"Red 12", "Ben", "Meadow"}, {"Red 12", "Ada", "Meadow"}}, geo.Told{Machine: "Red 12", Farm: "Meadow"}},
		{"a number", [3]string{"tracteur", "conducteur", "ferme"}, [][3]string{{"12", "7", "3"}, {"12", "7", "3"}, {"12", "7", "3"}}, geo.Told{Machine: "12", Driver: "7", Farm: "3"}},
		{"nobody", [3]string{"voertuig", "bestuurder", "klant"}, [][3]string{{}, {}, {}}, geo.Told{}},
	} {
		table := "lon,lat,time," + strings.Join(c.titles[:], ",") + "\n"
		var points []string
		for i, r := range c.rows {
			table += fmt.Sprintf("11.5,48.%d,%d,%s\n", i, 1776148200+i, strings.Join(r[:], ","))
			var properties []string
			for k, v := range r {
				properties = append(properties, fmt.Sprintf("%q:%q", c.titles[k], v))
			}
			points = append(points, feature1("{"+strings.Join(properties, ",")+"}", fmt.Sprintf(`{"type":"Point","coordinates":[11.5,48.%d]}`, i)))
		}
		dir := t.TempDir()
		for name, text := range map[string]string{"a.csv": table, "a.geojson": collection(points...)} {
			path := filepath.Join(dir, name)
			if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			tracks, _, err := Tracks(path, TrackOptions{})
			if err != nil || len(tracks) != 1 || tracks[0].Told != c.want {
				t.Errorf("%s, %s: %+v, %v, want %+v", c.situation, name, tracks[0].Told, err, c.want)
			}
		}
	}
	if got := columnTitle[heightColumn] + columnTitle[passColumn] + columnTitle[farmColumn]; got != "heightpassfarm" {
		t.Errorf("columns are called %s", got)
	}
	line := feature1(`{"machine":12,"driver":"Ada"}`, `{"type":"LineString","coordinates":[[1,48],[2,48]]}`)
	path := filepath.Join(t.TempDir(), "line.geojson")
	if err := os.WriteFile(path, []byte(line), 0o600); err != nil {
		t.Fatal(err)
	}
	if tracks, _, err := Tracks(path, TrackOptions{}); err != nil || tracks[0].Told != (geo.Told{Machine: "12", Driver: "Ada"}) {
		t.Errorf("a line: %+v, %v", tracks[0].Told, err)
	}
}

// TestMachinesByTurns: a log of two machines at once is said to be one, in a table and in GeoJSON, and one of two machines after each other is not.
func TestMachinesByTurns(t *testing.T) {
	for _, c := range []struct {
		situation string
		machine   func(k int) string
		want      string
	}{
		{"by turns", func(k int) string { return []string{"Red 12", "Green 4"}[k%2] }, "the machine changes 29 times from fix to fix"},
		{"by turns, some empty", func(k int) string { return []string{"Red 12", "", "Green 4"}[k%3] }, ""}, // 19 times
		{"one after the other", func(k int) string { return []string{"Red 12", "Green 4"}[k/15] }, ""},
		{"one", func(int) string { return "Red 12" }, ""},
	} {
		table, points := "lon,lat,time,machine\n", []string(nil)
		for k := range 30 {
			table += fmt.Sprintf("11.5,48.%02d,%d,%s\n", k, 1776148200+k, c.machine(k))
			points = append(points, feature1(fmt.Sprintf(`{"machine":%q,"time":%d}`, c.machine(k), 1776148200+k), fmt.Sprintf(`{"type":"Point","coordinates":[11.5,48.%02d]}`, k)))
		}
		dir := t.TempDir()
		for name, text := range map[string]string{"a.csv": table, "a.geojson": collection(points...)} {
			path := filepath.Join(dir, name)
			if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			_, found, err := Tracks(path, TrackOptions{})
			said := ""
			for _, f := range found {
				if strings.Contains(f.What, "the machine changes") {
					said = f.What
				}
			}
			if err != nil || !strings.HasPrefix(said, c.want) || c.want == "" && said != "" {
				t.Errorf("%s, %s: %q, %v, want %q", c.situation, name, said, err, c.want)
			}
		}
	}
}
