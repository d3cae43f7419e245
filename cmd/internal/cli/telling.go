package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"

	"balk/export/words"
)

// telling is a text for the terminal, in the language of who reads it. What is put into it is asked of the table of words:
// by put as a format, by heads as the heads of columns, by text where another room has said it in that language.
type telling struct {
	words.Language
	b    strings.Builder
	hint string // how to see more, on a first screen
}

// put adds what a format says, in the language; a format of values alone needs no words.
func (t *telling) put(format string, args ...any) { t.b.WriteString(t.Say(format, args...)) }

// text adds what is said already, in lines of 80 letters.
func (t *telling) text(said, indent string) { t.b.WriteString(words.Wrap(said, indent) + "\n") }

// heads begins a table; more columns stand where the rows have more cells.
func (t *telling) heads(heads ...string) *table {
	w := &table{t, tabwriter.NewWriter(&t.b, 0, 0, 2, ' ', tabwriter.AlignRight)}
	for _, h := range heads {
		fmt.Fprint(w.w, t.Word(h), "\t")
	}
	fmt.Fprintln(w.w)
	return w
}

// table is one in a text.
type table struct {
	t *telling
	w *tabwriter.Writer
}

// row adds one, of cells that end with a tab.
func (w *table) row(format string, args ...any) { fmt.Fprint(w.w, w.t.Say(format, args...)) }

// end puts the table into the text.
func (w *table) end() error { return w.w.Flush() }

// mostNamed files of a kind are named one by one; of more it is said how many there are.
const mostNamed = 3

// closing ends what was said with the files written and a caution, and prints it. Each stands apart by an empty line, but for a first screen with files,
// which would else be too long.
func (t *telling) closing(w io.Writer, files []string, caution string) error {
	last := t.hint
	if len(files) > 0 {
		if t.hint == "" && t.b.Len() > 0 {
			t.put("\n")
		}
		last = strings.TrimSpace(last + " " + t.written(files))
	}
	if last != "" {
		t.text(last, "")
	}
	if caution != "" {
		if t.hint == "" || len(files) == 0 {
			t.put("\n")
		}
		t.text(caution, "")
	}
	_, err := io.WriteString(w, t.b.String())
	return err
}

// written says which files were: by name those of which there are few of a kind.
func (t *telling) written(files []string) string {
	dir, kinds := filepath.Dir(files[0]), map[string]int{}
	for _, f := range files {
		if kinds[filepath.Ext(f)]++; filepath.Dir(f) != dir {
			dir = ""
		}
	}
	if dir == "" {
		s := t.Say("Written: %d files in %s", len(files), filepath.Dir(files[0]))
		if slices.ContainsFunc(files, func(f string) bool { return filepath.Base(f) == "README.txt" }) {
			s += t.Word("; README.txt says what each is for")
		}
		return s + "."
	}
	var names []string
	for _, f := range files {
		kind := filepath.Ext(f)
		switch n := kinds[kind]; {
		case n > mostNamed:
			names, kinds[kind] = append(names, fmt.Sprintf("%d %s", n, kind)), 0
		case n > 0:
			names = append(names, filepath.Base(f))
		}
	}
	return t.Say("Written to %s: %s.", dir, strings.Join(names, ", "))
}
