package job

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"
)

// What is wrong with a description is told with its line, in words of our own.
func TestFaultsOfADescription(t *testing.T) {
	library := regexp.MustCompile(`json:| toml:|cannot unmarshal|Go struct|invalid character|strconv|unexpected`)
	for text, want := range map[string]string{
		"width = 5\n\nfoo = 3\n":               `line 3: foo: no such name in a description`,
		"width = 5\n[mount]\nhich = 1\n":       `line 3: hich: no such name in a description; did you mean hitch?`,
		"width = 5\nmount.hich = 1\n":          `line 2: hich: no such name in a description; did you mean hitch?`,
		"# width\nwidth = \"five\"\n":          `line 2: width: a number is wanted, not a text`,
		"width = 5\n[mount]\nhitch = true\n":   `line 3: mount.hitch: a number is wanted, not true or false`,
		"width = 5\n[mount\nx = 1":             `line 2, column 7: cannot be read from here on`,
		"{\"width\": 5,\n \"foo\": 1}":         `line 2: foo: no such name in a description`,
		"{\"width\": 5,\n, \"foo\": 1}":        `line 2, column 1: no JSON from here on`,
		"{\"width\": 5,\n\"mount\": 3}":        `line 2: mount: a group of its own is wanted, not a number`,
		"{\"width\": [5]}":                     `line 1: width: a number is wanted, not a list`,
		"{\"width\": 5":                        `it breaks off before its end`,
		"{\"width\": 5} {}":                    `something follows the description`,
		"width = 5\noverlap = 1\nwidth = 6\n":  `line 3, column 1: a name that stands there twice`,
		"width = 5\nsections = [1, \"two\"]\n": `line 2: sections: a number is wanted, not a text`,
	} {
		file := filepath.Join(t.TempDir(), "set.toml")
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := new(Call).Implement(file)
		if err == nil || !regexp.MustCompile(`^implement .*set\.toml: `+regexp.QuoteMeta(want)).MatchString(err.Error()) || library.MatchString(err.Error()) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}
