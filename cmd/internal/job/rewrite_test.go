package job

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A value that is written into the file of an implement stands there with what it was; all else stays letter by letter.
func TestRewrite(t *testing.T) {
	const set = "# of the yard\nname = \"sweeps\"\nwidth = 6.0\noverlap = 0.10 # by the maker\n\n[mount]   # measured\nhitch = 1.7\nbarBehind = 1.1\n\n[turning]\nradius = 5.6\nspeed = 6"
	now := time.Date(2026, 5, 3, 12, 0, 0, 0, time.UTC)
	for situation, one := range map[string]struct {
		values   map[string]float64
		from, to string // in the file
	}{
		"a value":                {map[string]float64{"mount.hitch": 2.05}, "hitch = 1.7\n", "hitch = 2.05   # 1.7 until 2026-05-03\n"},
		"a value with a remark":  {map[string]float64{"overlap": 0.2}, "overlap = 0.10 # by the maker\n", "overlap = 0.2   # by the maker; 0.10 until 2026-05-03\n"},
		"not there yet":          {map[string]float64{"mount.barRight": -0.1}, "barBehind = 1.1\n", "barBehind = 1.1\nbarRight = -0.1   # not given until 2026-05-03\n"},
		"its group is not there": {map[string]float64{"body.ahead": 0.9}, "speed = 6", "speed = 6\n\n[body]\nahead = 0.9   # not given until 2026-05-03\n"},
		"of the last line":       {map[string]float64{"turning.speed": 7}, "speed = 6", "speed = 7   # 6 until 2026-05-03"},
		"not of a group":         {map[string]float64{"width": 5.5}, "width = 6.0\n", "width = 5.5   # 6.0 until 2026-05-03\n"},
	} {
		t.Run(situation, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "set.toml")
			if err := os.WriteFile(path, []byte(set), 0o600); err != nil {
				t.Fatal(err)
			}
			if err := Rewrite(path, one.values, now); err != nil {
				t.Fatal(err)
			}
			got, _ := os.ReadFile(path)
			if want := strings.Replace(set, one.from, one.to, 1); string(got) != want {
				t.Errorf("%s\nwant\n%s", got, want)
			}
			if info, _ := os.Stat(path); info.Mode().Perm() != 0o600 {
				t.Error("others may read it now:", info.Mode())
			}
		})
	}
	for situation, one := range map[string]struct {
		text   string
		values map[string]float64
		want   string
	}{
		"JSON":                          {`{"name": "sweeps", "width": 6}`, map[string]float64{"width": 5}, "by hand"},
		"a group on one line":           {"name = \"sweeps\"\nwidth = 6\nmount = {hitch = 1}\n", map[string]float64{"mount.hitch": 2}, "by hand"},
		"a text over lines looks so":    {"name = '''\nwidth = 6\n'''\nwidth = 6\n", map[string]float64{"width": 5}, "by hand"},
		"a width its sections have not": {"name = \"sweeps\"\nwidth = 6\nsections = [3, 3]\n", map[string]float64{"width": 5}, "sections"},
		"no such value":                 {"name = \"sweeps\"\nwidth = 6\n", map[string]float64{"mount.colour": 2}, "no such name"},
	} {
		t.Run(situation, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "set.toml")
			if err := os.WriteFile(path, []byte(one.text), 0o644); err != nil {
				t.Fatal(err)
			}
			if err := Rewrite(path, one.values, now); err == nil || !strings.Contains(err.Error(), one.want) {
				t.Error(err)
			}
			if got, _ := os.ReadFile(path); string(got) != one.text {
				t.Errorf("the file is another: %s", got)
			}
			if all, _ := os.ReadDir(filepath.Dir(path)); len(all) != 1 {
				t.Error("a rest stays:", all)
			}
		})
	}
}
