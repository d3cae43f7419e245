package help

import (
	"io/fs"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

// verbs have a page too, and the program itself.
var verbs = []string{"balk", "batch", "check", "compare", "demo", "handover", "season", "serve", "spots", "sweeps", "turn"}

// Every page is shown somewhere, has a title, and fits on a terminal of 100 columns but for its code.
func TestPages(t *testing.T) {
	files, err := fs.Glob(pages, "topics/*.md")
	if err != nil {
		t.Fatal(err)
	}
	var want []string
	for _, name := range slices.Sorted(slices.Values(append(verbs, Topics...))) {
		want = append(want, "topics/"+name+".md")
	}
	if !slices.Equal(files, want) {
		t.Errorf("pages %q, want %q", files, want)
	}
	for _, name := range append(verbs, Topics...) {
		title, text := Page(name)
		if title == "" || strings.ContainsAny(title, "`#\n") {
			t.Errorf("%s: title %q", name, title)
		}
		if n := strings.Count(text, "```"); n%2 != 0 {
			t.Errorf("%s: a block without an end", name)
		}
		plain := Plain(text)
		if strings.ContainsAny(plain, "`|") || strings.Contains(plain, "**") {
			t.Errorf("%s: marks are left in\n%s", name, plain)
		}
		for line := range strings.Lines(text) {
			if n := utf8.RuneCountInString(line); n > 100 && !strings.HasPrefix(line, "balk ") && !strings.HasPrefix(line, "|") {
				t.Errorf("%s: a line of %d characters: %s", name, n, line)
			}
		}
	}
}

func TestPlain(t *testing.T) {
	got := Plain("One `code` and\n**strong** *words*, 2 * 3 * 4.\n\n```toml\n[mount] # `as it stands`\n```\n\n| a | long |\n|---|---|\n| 100 | b |\n| *c* | |\n\n- an item, `over\n  lines`\n")
	want := "One code and\nstrong words, 2 * 3 * 4.\n\n  [mount] # `as it stands`\n\n  a    long\n  100  b\n  c\n\n- an item, over\n  lines"
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestPageThatIsNotThere(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("a page that is not there gives a text")
		}
	}()
	Page("nonsense")
}
