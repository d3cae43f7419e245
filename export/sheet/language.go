package sheet

import (
	"fmt"
	"io"
	"strings"

	"github.com/paulmach/orb"
)

// Language is that of the words on the paper; "" = English. What comes from outside, such as
// names, remarks and findings on the data, stays as it is.
type Language string

const (
	English Language = "en"
	German  Language = "de"
)

// validate says whether l is a language of the sheet.
func (l Language) validate() error {
	switch l {
	case "", English, German:
		return nil
	}
	return fmt.Errorf("language %q: must be %s or %s", string(l), English, German)
}

// word is an English word or sentence in l. German that is missing stays English; a test looks
// for all that is asked for.
func (l Language) word(english string) string {
	if l == German {
		if s, ok := german[english]; ok {
			return s
		}
	}
	return english
}

// say is fmt.Sprintf in l: the format is an English one, and numbers get the language's
// decimal mark.
func (l Language) say(format string, args ...any) string {
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
	return fmt.Sprintf(l.word(format), own...)
}

// count is a number with its word, in the plural where it is one; the table of words has
// "%d strip" and "%d strips".
func (l Language) count(n int, word string) string {
	if n != 1 {
		word += "s"
	}
	return fmt.Sprintf(l.word("%d "+word), n)
}

// digits puts the language's decimal mark into a number that is written already.
func (l Language) digits(number string) string {
	if l == German {
		return strings.Replace(number, ".", ",", 1)
	}
	return number
}

// comma is a number written with a decimal comma, by any verb.
type comma float64

func (c comma) Format(f fmt.State, verb rune) {
	io.WriteString(f, strings.Replace(fmt.Sprintf(fmt.FormatString(f, verb), float64(c)), ".", ",", 1))
}

// placeWords is a place as devices read it, longitude and latitude: with decimal points in every
// language, since people type or copy it into a map.
func placeWords(at orb.Point) string { return fmt.Sprintf("%.6f, %.6f", at[0], at[1]) }

// day is the layout of a date (package time).
func (l Language) day() string {
	if l == German {
		return "02.01.2006"
	}
	return "2006-01-02"
}
