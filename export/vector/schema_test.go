package vector

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"balk/testdata/check"
)

// kmlSchema is the schema of OGC KML 2.2 (OGC 07-147r2) in a folder of its own. It comes with a general library for KML, which the gate fetches; nothing
// of balk is built with it. Of the two schemas that it takes in, of authors and of postal addresses, none of whose elements are written here, only the
// names that it refers to are given.
func kmlSchema(t *testing.T) string {
	t.Helper()
	cache, err := exec.Command("go", "env", "GOMODCACHE").Output()
	if err != nil {
		t.Fatal(err)
	}
	schema, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(cache)), "github.com/twpayne/go-kml/v3@v3.2.1/xsd/ogckml22.xsd"))
	if err != nil {
		check.Skip(t, "the schema of KML 2.2 (go mod download github.com/twpayne/go-kml/v3@v3.2.1) is not there")
	}
	dir := t.TempDir()
	named := func(space string, elements ...string) []byte {
		text := `<schema xmlns="http://www.w3.org/2001/XMLSchema" targetNamespace="` + space + `">`
		for _, e := range elements {
			text += `<element name="` + e + `"/>`
		}
		return []byte(text + `</schema>`)
	}
	for name, text := range map[string][]byte{
		"ogckml22.xsd":         bytes.ReplaceAll(schema, []byte("http://docs.oasis-open.org/election/external/xAL.xsd"), []byte("xAL.xsd")),
		"atom-author-link.xsd": named("http://www.w3.org/2005/Atom", "author", "link"),
		"xAL.xsd":              named("urn:oasis:names:tc:ciq:xsdschema:xAL:2.0", "AddressDetails"),
	} {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return filepath.Join(dir, "ogckml22.xsd")
}

// TestKMLKeepsItsSchema: KML is valid by the public schema, and a misspelt element is not. The schema of GPX 1.1 was looked for in the same way, in
// packages of Debian, of Go and of npm, and is in none that was found.
func TestKMLKeepsItsSchema(t *testing.T) {
	lint, err := exec.LookPath("xmllint")
	if err != nil {
		check.Skip(t, "xmllint (Debian libxml2-utils) is not installed")
	}
	schema := kmlSchema(t)
	valid := func(text []byte) (complaint string, ok bool) {
		cmd := exec.Command(lint, "--nonet", "--noout", "--schema", schema, "-")
		cmd.Stdin = bytes.NewReader(text)
		out, err := cmd.CombinedOutput()
		return string(out), err == nil
	}
	layers, err := LayersOf(strips(3))
	if err != nil {
		t.Fatal(err)
	}
	text := writtenBytes(t, func(w io.Writer) error { return WriteKML(w, "the <farm>", append(layers, named(wild), guidance())) })
	if complaint, ok := valid(text); !ok {
		t.Error(complaint)
	}
	wrong := bytes.Replace(text, []byte("<Placemark>"), []byte("<Placemark><visibilty>1</visibilty>"), 1)
	if complaint, ok := valid(wrong); ok || !strings.Contains(complaint, "visibilty") {
		t.Errorf("a misspelt element: %q", complaint)
	}
}
