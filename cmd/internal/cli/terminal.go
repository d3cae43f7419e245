package cli

import (
	"io"
	"os"
	"strings"
	"unicode"
)

// terminal tells whether w is one: a character device that is not the null
// device.
func terminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	if err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return false
	}
	null, err := os.Stat(os.DevNull)
	return err != nil || !os.SameFile(info, null)
}

// printable is a line with names out of files as a terminal may show it: any space
// is a plain one, and what would move the cursor or turn the writing round is shown as �.
func printable(line string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case unicode.IsPrint(r):
			return r
		}
		return unicode.ReplacementChar
	}, line)
}
