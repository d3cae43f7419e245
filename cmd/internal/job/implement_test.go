package job

import (
	"reflect"
	"strings"
	"testing"

	"balk/coverage/rig"
)

func TestDecodeImplement(t *testing.T) {
	want := rig.Implement{Name: "sweep", Width: 5, Overlap: 0.1, Mount: rig.Mount{Trailed: true, AntennaAhead: 0.5, Hitch: 1.7, Drawbar: 4.2, BarBehind: 1.1}}
	for _, c := range []struct{ name, text, fault string }{
		{"JSON", `{"name":"sweep","width":5,"overlap":0.1,"mount":{"trailed":true,"antennaAhead":0.5,"hitch":1.7,"drawbar":4.2,"barBehind":1.1}}`, ""},
		{"TOML", "name = \"sweep\"\nwidth = 5\noverlap = 0.1\n[mount]\ntrailed = true\nantennaAhead = 0.5\nhitch = 1.7\ndrawbar = 4.2\nbarBehind = 1.1\n", ""},
		{"misspelt length", `{"width":5,"mount":{"hich":2}}`, "hich"},
		{"misspelt length in TOML", "width = 5\nwidht = 3\n", "widht"},
		{"no width", `{"name":"x"}`, "must be above 0 and not above 100 m"},
		{"overlap as wide as the tool", `{"width":5,"overlap":5}`, "overlap 5 m"},
		{"trailed without drawbar", `{"width":5,"mount":{"trailed":true}}`, "drawbar 0 m"},
		{"broken TOML", "width = \n", "line 1"},
		{"two descriptions", `{"width":5}{"width":6}`, "follows"},
		{"empty", " \n", "empty"},
		{"width as text", `{"width":"five"}`, "width"},
	} {
		t.Run(c.name, func(t *testing.T) {
			im, err := decodeImplement([]byte(c.text))
			switch {
			case c.fault == "" && (err != nil || !reflect.DeepEqual(im, want)):
				t.Errorf("got %+v, %v", im, err)
			case c.fault != "" && (err == nil || !strings.Contains(err.Error(), c.fault)):
				t.Errorf("got %v, want a fault that says %q", err, c.fault)
			}
		})
	}
}

func TestMountByName(t *testing.T) {
	from := rig.Mount{Hitch: 1, BarRight: 0.2}
	m, err := Mount(from, map[string]string{"trailed": "true", "drawbar": "4.5", "hitch": "1.6"})
	if want := (rig.Mount{Trailed: true, Hitch: 1.6, Drawbar: 4.5, BarRight: 0.2}); err != nil || m != want {
		t.Errorf("%+v, %v, want %+v", m, err, want)
	}
	for name, value := range map[string]string{"hich": "2", "hitch": "far", "trailed": "2", "drawbar": `1,"hitch":2}`} {
		if _, err := Mount(from, map[string]string{name: value}); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s=%s: %v", name, value, err)
		}
	}
}

func FuzzDecodeImplement(f *testing.F) {
	f.Add([]byte(`{"width":5}`))
	f.Add([]byte("width = 5\n[mount]\nhitch = 2\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		if im, err := decodeImplement(text); err == nil && im.Validate() != nil {
			t.Errorf("taken, but not valid: %+v", im)
		}
	})
}
