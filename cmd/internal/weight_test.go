package internal

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// What balk may weigh: packages that are not ours nor Go's, and bytes of the binary that is handed out. A new library that
// goes beyond is a decision, as a new arrow is.
const (
	mostPackages = 80
	mostBytes    = 209 << 17 // 26.125 MiB; of it 3.8 MiB for the page and its server (net/http brings TLS with it), 1.5 MiB for seasons, the store of a farm and spot checks, with their words, pages and forms of reports; 0.3 for sweeps and the sheet of a season, 0.1 for the tags of PDFs and what the page writes into files, 0.1 for what another overlap would change and for words of both languages since; the last of 25.875 went to numbers in a call, folders of logs, ways past small obstacles and stray fixes; that of 26 MiB to headings held against the way, and words of both languages

	// of balk-many: PostgreSQL, queue, S3, metrics and columns
	mostPackagesOfMany = 300
	mostBytesOfMany    = 31_000_000
)

// inRoot runs the go command in the repository, for a system as it is handed out.
func inRoot(t *testing.T, system string, args ...string) string {
	t.Helper()
	c := exec.Command("go", args...)
	c.Dir = filepath.Join("..", "..")
	c.Env = append(os.Environ(), "CGO_ENABLED=0")
	if kind, arch, named := strings.Cut(system, "/"); named {
		c.Env = append(c.Env, "GOOS="+kind, "GOARCH="+arch)
	}
	var stderr strings.Builder
	c.Stderr = &stderr
	out, err := c.Output()
	if err != nil {
		t.Fatalf("go %q: %v\n%s", args, err, stderr.String())
	}
	return string(out)
}

// foreign are the packages of others in a program.
func foreign(t *testing.T, program string) (names []string) {
	for name := range strings.FieldsSeq(inRoot(t, "", "list", "-deps", "-f", "{{if not .Standard}}{{.ImportPath}}{{end}}", program)) {
		if !strings.HasPrefix(name, "balk/") {
			names = append(names, name)
		}
	}
	return names
}

func TestWeight(t *testing.T) {
	for _, c := range []struct {
		program         string
		packages, bytes int
	}{
		{"./cmd/balk", mostPackages, mostBytes},
		{"./cmd/balk-many", mostPackagesOfMany, mostBytesOfMany},
	} {
		names := foreign(t, c.program)
		if n := len(names); n > c.packages || n < 20 {
			t.Errorf("%s: %d packages of others: at most %d\n%s", c.program, n, c.packages, strings.Join(names, "\n"))
		}
		binary := filepath.Join(t.TempDir(), "program")
		inRoot(t, "", "build", "-trimpath", "-ldflags", "-s -w", "-o", binary, c.program)
		if st, err := os.Stat(binary); err != nil || st.Size() > int64(c.bytes) {
			t.Errorf("%s: %v; the binary has %.2f MiB: at most %.2f", c.program, err, float64(st.Size())/(1<<20), float64(c.bytes)/(1<<20))
		}
	}
}

// What many machines need is in balk-many only.
func TestNoDatabaseInBalk(t *testing.T) {
	heavy := regexp.MustCompile(`^github\.com/(jackc/|minio/|parquet-go/|prometheus/|riverqueue/river/riverdriver/riverpgxv5)`)
	has := func(program string) (found []string) {
		for _, name := range foreign(t, program) {
			if heavy.MatchString(name) {
				found = append(found, name)
			}
		}
		return found
	}
	if found := has("./cmd/balk"); len(found) > 0 {
		t.Errorf("balk links %q", found)
	}
	if found := has("./cmd/balk-many"); len(found) < 5 {
		t.Errorf("balk-many links %q: the test does not see them", found)
	}
}
