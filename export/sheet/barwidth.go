package sheet

import (
	"math"

	"balk/coverage/drive"
	"balk/export/words"
)

// Width is a working width with where it comes from and, where it is mixed, its spread and
// how much of the way the whole bar worked, in words.
func Width(l words.Language, b drive.Bar) string {
	if !b.Mixed() {
		return bar(l, b)
	}
	return l.Say("%.2f m (%s; %.2f to %.2f m, the whole bar on %.0f %% of the way)", b.Width, source(l, b), b.Least, b.Most, math.Floor(100*b.Whole))
}

// bar is the short form of width for the sheet's head.
func bar(l words.Language, b drive.Bar) string {
	if !b.Mixed() {
		return l.Say("%.2f m (%s)", b.Width, source(l, b))
	}
	return l.Say("%.2f m (%s; %.2f to %.2f m)", b.Width, source(l, b), b.Least, b.Most)
}

// source says where a width comes from.
func source(l words.Language, b drive.Bar) string {
	switch b.From {
	case drive.WidthFile:
		return l.Word("implement file")
	case drive.WidthLogged:
		return l.Word("logged")
	}
	return l.Word("given")
}
