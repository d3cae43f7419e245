package help

import (
	"bytes"
	"compress/gzip"
	"embed"
	"fmt"
	"io"
	"regexp"
	"strings"
	"unicode/utf8"
)

//go:embed topics/*.md
var pages embed.FS

// Topics are the names of the pages that are about no verb, in the order of the alphabet.
var Topics = []string{"accuracy", "balance", "columns", "exit", "farm", "formats", "implement", "logs", "operations", "results", "states", "weather"}

// Page is the title of a page and what stands below it, as Markdown. A page that is not there is a fault of
// the program.
func Page(name string) (title, text string) {
	b, err := pages.ReadFile("topics/" + name + ".md")
	title, text, ok := strings.Cut(strings.TrimPrefix(string(b), "# "), "\n\n")
	if err != nil || !ok {
		panic(fmt.Sprintf("help: no page %q", name))
	}
	return title, text
}

// Schema is the form of the reports as JSON Schema. A test writes it (cmd/internal/job, TestSchema).
//
//go:embed schema.json
var Schema string

//go:embed notices.gz
var notices []byte

// Notices are the licences of balk and of what is linked into it. A test writes them (cmd/internal, TestLicences).
func Notices() string {
	z, err := gzip.NewReader(bytes.NewReader(notices))
	var text []byte
	if err == nil {
		text, err = io.ReadAll(z)
	}
	if err != nil {
		panic(fmt.Sprintf("help: the notices are broken: %v", err))
	}
	return string(text)
}

// mark is `code`, **strong** or *stressed*, over the end of a line too.
var mark = regexp.MustCompile("(?s)`([^`]*)`|\\*\\*([^*]+)\\*\\*|\\*([^* ][^*]*)\\*")

// Plain is Markdown for a terminal: marks are off, blocks are indented, and the columns of tables stand
// below each other.
func Plain(markdown string) string {
	var b strings.Builder
	for i, part := range strings.Split(markdown, "```") {
		if i%2 == 1 { // the first line of a block names its language
			_, block, _ := strings.Cut(part, "\n")
			for line := range strings.Lines(block) {
				b.WriteString("  " + line)
			}
			continue
		}
		if i > 0 {
			b.WriteString("\n")
		}
		part = strings.TrimLeft(mark.ReplaceAllString(part, "$1$2$3"), "\n")
		for _, paragraph := range strings.SplitAfter(part, "\n\n") {
			if strings.HasPrefix(paragraph, "|") {
				paragraph = table(paragraph) + "\n"
			}
			b.WriteString(paragraph)
		}
	}
	return strings.TrimRight(b.String(), "\n")
}

// table puts the cells of a table's column below each other. The line below its head has none.
func table(markdown string) string {
	var rows [][]string
	var wide []int
	for line := range strings.Lines(strings.TrimSpace(markdown)) {
		if strings.HasPrefix(line, "|---") {
			continue
		}
		row := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
		for k, cell := range row {
			if row[k] = strings.TrimSpace(cell); k == len(wide) {
				wide = append(wide, 0)
			}
			wide[k] = max(wide[k], utf8.RuneCountInString(row[k]))
		}
		rows = append(rows, row)
	}
	var b strings.Builder
	for _, row := range rows {
		line := ""
		for k, cell := range row {
			line += fmt.Sprintf("  %-*s", wide[k], cell)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	return b.String()
}
