package sheet

import (
	"fmt"
	"math"

	"balk/coverage/drive"
)

// Width is a working width with where it comes from and, where it is mixed, its spread and
// how much of the way the whole bar worked, in words.
func Width(b drive.Bar) string {
	if !b.Mixed() {
		return English.bar(b)
	}
	return fmt.Sprintf("%.2f m (%s; %.2f to %.2f m, the whole bar on %.0f %% of the way)", b.Width, b.From, b.Least, b.Most, math.Floor(100*b.Whole))
}

// bar is the short form of Width for the sheet's head.
func (l Language) bar(b drive.Bar) string {
	from := l.word("given")
	switch b.From {
	case drive.WidthFile:
		from = l.word("implement file")
	case drive.WidthLogged:
		from = l.word("logged")
	}
	if !b.Mixed() {
		return l.say("%.2f m (%s)", b.Width, from)
	}
	return l.say("%.2f m (%s; %.2f to %.2f m)", b.Width, from, b.Least, b.Most)
}
