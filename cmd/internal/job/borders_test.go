package job

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// TestStandingBorders: the file that says what holds is looked for up to the home folder, that included, by whatever way that is named, and up to the border of
// a file system.
func TestStandingBorders(t *testing.T) {
	top := t.TempDir()
	home := filepath.Join(top, "home")
	logs := filepath.Join(home, "farm", "logs")
	if err := os.MkdirAll(logs, 0o755); err != nil {
		t.Fatal(err)
	}
	put := func(dir string) string {
		file := filepath.Join(dir, StandingFile)
		if err := os.WriteFile(file, []byte("rounds = 3\n"), 0o644); err != nil {
			t.Fatal(err)
		}
		return file
	}
	looked := func(want string) {
		t.Helper()
		got, err := standingAbove(filepath.Join(logs, "a.csv"))
		if got != "" {
			got, _ = filepath.Abs(got)
		}
		if err != nil || got != want {
			t.Errorf("found %q (%v), want %q", got, err, want)
		}
	}
	above := put(top)
	t.Setenv("USERPROFILE", "")
	t.Setenv("HOME", "")
	looked(above) // nothing but the file system ends the way
	name := map[bool]string{false: "HOME", true: "USERPROFILE"}[runtime.GOOS == "windows"]
	t.Setenv(name, home)
	looked("")
	t.Setenv(name, home+string(filepath.Separator))
	looked("")
	if link := filepath.Join(top, "link"); os.Symlink(home, link) == nil {
		t.Setenv(name, link)
		looked("")
	}
	inHome := put(home)
	looked(inHome)
	nearer := put(filepath.Dir(logs))
	looked(nearer)
	t.Setenv(name, filepath.Join(top, "gone")) // a home that is not there is no border
	if err := os.Remove(nearer); err != nil {
		t.Fatal(err)
	}
	looked(inHome)

	if runtime.GOOS != "linux" {
		return
	}
	stat := func(path string) os.FileInfo {
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		return info
	}
	if !sameDisk(stat(logs), stat(home)) || sameDisk(stat("/proc"), stat("/")) {
		t.Error("the border of a file system: /proc is one of its own, two folders below each other are not")
	}
}
