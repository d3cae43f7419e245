package sheet

import (
	"io"
	"time"

	"balk/coverage"
	"balk/export/sheet/paper"
)

// PDF writes the sheet to print. It fails, and writes nothing, where Pages fails.
// The same result and page give the same bytes: the file's date is that of the
// operation, or missing if no time was logged.
func PDF(w io.Writer, r coverage.Result, p Page) error {
	leaves, err := Pages(r, p)
	if err != nil {
		return err
	}
	var when time.Time
	if n := len(r.Passes); n > 0 {
		when = r.Passes[n-1].To
	}
	return paper.PDF(w, leaves, when)
}
