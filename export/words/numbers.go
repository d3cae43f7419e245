package words

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"balk/geo"

	"github.com/paulmach/orb"
)

// Digits puts the language's decimal mark into a number, or a range of two, that is written already.
func (l Language) Digits(number string) string {
	if l == German {
		return strings.ReplaceAll(number, ".", ",")
	}
	return number
}

// Bearings are the directions of rows in degrees, as 12° or, where others run otherwise, 12°/90°.
func (l Language) Bearings(one float64, also []float64, decimals int) string {
	s := fmt.Sprintf("%.*f°", decimals, one)
	for _, o := range also {
		s += fmt.Sprintf("/%.*f°", decimals, o)
	}
	return l.Digits(s)
}

// comma is a number written with a decimal comma, by any verb.
type comma float64

func (c comma) Format(f fmt.State, verb rune) {
	io.WriteString(f, strings.Replace(fmt.Sprintf(fmt.FormatString(f, verb), float64(c)), ".", ",", 1))
}

// Place is a place as phones take it, latitude first, with decimal points in every language, since people type or copy it into
// a map. Files and flags have longitude first.
func Place(at orb.Point) string { return fmt.Sprintf("%.6f, %.6f", at[1], at[0]) }

// Day is the layout of a date (package time).
func (l Language) Day() string {
	if l == German {
		return "02.01.2006"
	}
	return "2006-01-02"
}

// zonesInGerman are the short names of zones where German is spoken.
var zonesInGerman = map[string]string{"CET": "MEZ", "CEST": "MESZ"}

// Zone is the short name of a zone in l.
func (l Language) Zone(name string) string {
	if l == German {
		return cmp.Or(zonesInGerman[name], name)
	}
	return name
}

// Instant is a time in a zone (nil: UTC), which it names; of a log without a date it is the time of day.
func (l Language) Instant(t time.Time, zone *time.Location) string {
	if zone == nil {
		zone = time.UTC
	}
	if !geo.Dated(t) {
		return t.Format("15:04") + " (" + l.Word("no date logged") + ")"
	}
	return t.In(zone).Format(l.Day()+" 15:04 ") + l.Zone(t.In(zone).Format("MST"))
}

// Hours is so many seconds as h:min, without the unit.
func Hours(seconds float64) string {
	m := int64(math.Round(seconds / time.Minute.Seconds()))
	return fmt.Sprintf("%d:%02d", m/60, m%60)
}

// Clock is so many seconds in hours and minutes.
func Clock(seconds float64) string { return Hours(seconds) + " h" }

// HaPerHour is a capacity in m²/s as people read it.
func HaPerHour(capacity float64) float64 { return capacity * time.Hour.Seconds() / 1e4 }
