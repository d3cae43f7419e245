package words

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"balk/geo"

	"github.com/paulmach/orb"
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

// Word is an English word or sentence in l. German that is missing stays English; a test looks
// for all that is asked for.
func (l Language) Word(english string) string {
	if l == German {
		if s, ok := german[english]; ok {
			return s
		}
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
		word += "s"
	}
	return fmt.Sprintf(l.Word("%d "+word), n)
}

// Digits puts the language's decimal mark into a number that is written already.
func (l Language) Digits(number string) string {
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

// Place is a place as devices read it, longitude and latitude: with decimal points in every
// language, since people type or copy it into a map.
func Place(at orb.Point) string { return fmt.Sprintf("%.6f, %.6f", at[0], at[1]) }

// Day is the layout of a date (package time).
func (l Language) Day() string {
	if l == German {
		return "02.01.2006"
	}
	return "2006-01-02"
}

// Instant is a time in a zone (nil: UTC), which it names; of a log without a date it is the time of day.
func (l Language) Instant(t time.Time, zone *time.Location) string {
	if zone == nil {
		zone = time.UTC
	}
	if !geo.Dated(t) {
		return t.Format("15:04") + " (" + l.Word("no date logged") + ")"
	}
	return t.In(zone).Format(l.Day() + " 15:04 MST")
}

// Clock is so many seconds in hours and minutes.
func Clock(seconds float64) string {
	m := int64(math.Round(seconds / 60))
	return fmt.Sprintf("%d:%02d h", m/60, m%60)
}

// Wrap breaks s into lines of some 90 letters, each with an indent.
func Wrap(s, indent string) string {
	var b strings.Builder
	n := 0
	for _, word := range strings.Fields(geo.Shown(s)) {
		long := utf8.RuneCountInString(word)
		switch {
		case n == 0:
			b.WriteString(indent)
		case n+1+long > 90:
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
