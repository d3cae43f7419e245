package words

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"balk/geo"
)

// Language is that of what people read; "" = English. What comes from outside, such as
// names, remarks and findings on the data, stays as it is.
type Language string // by its ISO 639-1 code

const (
	English Language = "en"
	German  Language = "de"
)

// Validate says whether there are words in l.
func (l Language) Validate() error {
	switch l {
	case "", English, German:
		return nil
	}
	return fmt.Errorf("language %q: must be %s or %s", string(l), English, German)
}

// Spoken is the language that a call asks for, which holds even where the call is wrong otherwise.
func Spoken(args []string) (l Language) {
	for i, a := range args {
		code, is := strings.CutPrefix(a, "--language=")
		if a == "--language" && i+1 < len(args) {
			code, is = args[i+1], true
		}
		if known := Language(code); is && known.Validate() == nil {
			l = known
		}
	}
	return l
}

// tables are the German for what is said: on paper and terminal, on a terminal alone, on the page alone, and, from spokenFrom on, by rooms that know no language.
var tables = []map[string]string{german, onTerminal, onPage, onFiles, findings, faults, unreadable}

const spokenFrom = 3

// inGerman is the German for an English text of the tables; white space around it stays.
func inGerman(english string) (string, bool) {
	bare := strings.Trim(english, " \n")
	at := strings.Index(english, bare)
	for _, t := range tables {
		if s, ok := t[english]; ok {
			return s, true
		}
		if s, ok := t[bare]; ok && bare != "" {
			return english[:at] + s + english[at+len(bare):], true
		}
	}
	return english, false
}

// Word is an English word or sentence in l. German that is missing stays English; a test looks
// for all that is asked for.
func (l Language) Word(english string) string {
	if l == German {
		english, _ = inGerman(english)
	}
	return english
}

// Say is fmt.Sprintf in l: the format is an English one, and numbers get the language's
// decimal mark.
func (l Language) Say(format string, args ...any) string {
	if l != German {
		return fmt.Sprintf(format, args...)
	}
	own := make([]any, len(args))
	for i, a := range args {
		own[i] = a
		if v, ok := a.(float64); ok {
			own[i] = comma(v)
		}
	}
	return fmt.Sprintf(l.Word(format), own...)
}

// Count is a number with its word, in the plural where it is one; the table of words has
// "%d strip" and "%d strips".
func (l Language) Count(n int, word string) string {
	if n != 1 {
		word = plural(word)
	}
	return fmt.Sprintf(l.Word("%d "+word), n)
}

func plural(word string) string {
	if strings.HasSuffix(word, "s") {
		return word + "es"
	}
	return word + "s"
}

// Wrap breaks s into lines of 80 letters at most, each with an indent.
func Wrap(s, indent string) string {
	var b strings.Builder
	n := 0
	for _, word := range strings.Fields(geo.Shown(s)) {
		long := utf8.RuneCountInString(word)
		switch {
		case n == 0:
			b.WriteString(indent)
		case n+1+long > 80-utf8.RuneCountInString(indent):
			b.WriteString("\n" + indent)
			n = 0
		default:
			b.WriteByte(' ')
			n++
		}
		b.WriteString(word)
		n += long
	}
	return b.String()
}
