package internal

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// What balk may weigh: packages that are not ours nor Go's, and bytes of the binary that is handed out. A new library that
// goes beyond is a decision, as a new arrow is.
const (
	mostPackages = 80
	mostBytes    = 25 << 20 // of it 3.8 MiB for the page and its server (net/http brings TLS with it), 1.5 MiB for seasons, the store of a farm and spot checks, with their words, pages and forms of reports; 0.3 for sweeps and the sheet of a season
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

func TestWeight(t *testing.T) {
	var foreign []string
	for name := range strings.FieldsSeq(inRoot(t, "", "list", "-deps", "-f", "{{if not .Standard}}{{.ImportPath}}{{end}}", "./cmd/balk")) {
		if !strings.HasPrefix(name, "balk/") {
			foreign = append(foreign, name)
		}
	}
	if n := len(foreign); n > mostPackages || n < 20 {
		t.Errorf("%d packages of others: at most %d\n%s", n, mostPackages, strings.Join(foreign, "\n"))
	}
	binary := filepath.Join(t.TempDir(), "balk")
	inRoot(t, "", "build", "-trimpath", "-ldflags", "-s -w", "-o", binary, "./cmd/balk")
	if st, err := os.Stat(binary); err != nil || st.Size() > mostBytes {
		t.Errorf("%v; the binary has %.2f MiB: at most %.2f", err, float64(st.Size())/(1<<20), mostBytes/float64(1<<20))
	}
}
