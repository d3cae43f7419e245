package geo

import (
	"strings"
	"unicode"
)

// Shown is a text out of a file or a call as people may read it, on a terminal and on paper: any space is
// a plain one, and what cannot be seen, moves a cursor or turns the direction of writing is shown as �.
// What joins letters, or keeps them apart, stays, for some scripts are not written without.
func Shown(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case unicode.IsPrint(r), unicode.Is(unicode.Join_Control, r):
			return r
		}
		return unicode.ReplacementChar
	}, text)
}
