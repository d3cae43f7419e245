package sheet

import (
	"math"

	"balk/coverage/drive"
)

// Width is a working width with where it comes from and, where it is mixed, its spread and
// how much of the way the whole bar worked, in words.
func Width(b drive.Bar) string { return English.width(b) }

func (l Language) width(b drive.Bar) string {
	if !b.Mixed() {
		return l.bar(b)
	}
	return l.say("%.2f m (%s; %.2f to %.2f m, the whole bar on %.0f %% of the way)", b.Width, l.source(b), b.Least, b.Most, math.Floor(100*b.Whole))
}

// bar is the short form of width for the sheet's head.
func (l Language) bar(b drive.Bar) string {
	if !b.Mixed() {
		return l.say("%.2f m (%s)", b.Width, l.source(b))
	}
	return l.say("%.2f m (%s; %.2f to %.2f m)", b.Width, l.source(b), b.Least, b.Most)
}

// source says where a width comes from.
func (l Language) source(b drive.Bar) string {
	switch b.From {
	case drive.WidthFile:
		return l.word("implement file")
	case drive.WidthLogged:
		return l.word("logged")
	}
	return l.word("given")
}
