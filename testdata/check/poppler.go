package check

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// Poppler runs one of the programs of poppler-utils on a PDF, whose name stands for FILE in the arguments, and
// gives what it prints. Whatever it complains of fails the test; where it is not installed the test is skipped.
func Poppler(t *testing.T, pdf []byte, program string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		Skip(t, program+" (poppler-utils) is not installed")
	}
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	for i, a := range args {
		if a == "FILE" {
			args[i] = file
		}
	}
	cmd := exec.Command(program, args...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil || stderr.Len() > 0 {
		t.Fatalf("%s: %v: %s", program, err, stderr.String())
	}
	return string(out)
}
