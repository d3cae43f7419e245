package read

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"balk/geo"
)

// spotColumn is what a column of spot checks holds.
type spotColumn uint8

const (
	spotNone spotColumn = iota
	spotID
	spotLon
	spotLat
	spotAccuracy
	spotTime
	spotWhy
	spotOperation
	spotPass
	spotSection
	spotStrip
	spotFrom
	spotLength
	spotWidth
	spotCut
	spotRibs
	spotDepths
	spotSmeared
	spotBurial
	spotSeed
	spotPlantsCounted
	spotPlantsCover
	spotVisit
	spotUntreated
	spotHand
	spotLap
	spotWay
	spotOther
	spotNote
	spotPhoto
	spotColumns
)

// spotHeads are the columns as they are written: in English, in German, and what one of their units is in that of
// geo.SpotCheck. The heading ends in the unit.
var spotHeads = [spotColumns]struct {
	english, german string
	factor          float64
	more            []string // other names that are read
}{
	spotID:            {"id", "nummer", 1, []string{"name", "nr", "punkt", "place"}},
	spotLon:           {"lon", "lon", 1, []string{"longitude", "lng", "x", "laengengrad", "längengrad"}},
	spotLat:           {"lat", "lat", 1, []string{"latitude", "y", "breitengrad"}},
	spotAccuracy:      {"accuracy_m", "genauigkeit_m", 1, []string{"accuracy", "genauigkeit"}},
	spotTime:          {"time", "zeit", 1, []string{"timestamp", "datetime", "zeitpunkt", "zeitstempel"}},
	spotWhy:           {"why", "grund", 1, []string{"chosen"}},
	spotOperation:     {"operation", "arbeitsgang", 1, nil},
	spotPass:          {"pass", "bahn", 1, []string{"fahrt"}},
	spotSection:       {"section", "teilbreite", 1, []string{"section_from_the_left"}},
	spotStrip:         {"strip", "streifen", 1, nil},
	spotFrom:          {"from_left_m", "von_links_m", 1, []string{"from_m", "from_left", "von_m", "von_links"}},
	spotLength:        {"length_m", "laenge_m", 1, []string{"length", "laenge", "länge_m", "länge"}},
	spotWidth:         {"width_cm", "breite_cm", 0.01, nil},
	spotCut:           {"cut", "geschnitten", 1, nil},
	spotRibs:          {"ribs_cm", "rippen_cm", 0.01, []string{"ribs", "rippen", "uncut_ribs"}},
	spotDepths:        {"depth_cm", "tiefe_cm", 0.01, []string{"depth", "depths", "depths_cm", "tiefe", "tiefen_cm"}},
	spotSmeared:       {"smeared", "verschmiert", 1, nil},
	spotBurial:        {"burial_cm", "eingearbeitet_cm", 0.01, []string{"burial"}},
	spotSeed:          {"seed_cm", "saattiefe_cm", 0.01, []string{"seed", "seed_depth_cm", "saattiefe"}},
	spotPlantsCounted: {"plants_m2", "pflanzen_m2", 1, []string{"plants", "pflanzen", "plants_per_m2"}},
	spotPlantsCover:   {"cover_percent", "deckung_prozent", 1, []string{"cover", "deckung"}},
	spotVisit:         {"visit", "begehung", 1, nil},
	spotUntreated:     {"untreated", "unbehandelt", 1, nil},
	spotHand:          {"join_hand", "anschluss_seite", 1, nil},
	spotLap:           {"lap_cm", "ueberlappung_cm", 0.01, []string{"lap", "überlappung_cm"}},
	spotWay:           {"join_way", "anschluss_richtung", 1, nil},
	spotOther:         {"join_pass", "anschluss_bahn", 1, nil},
	spotNote:          {"note", "notiz", 1, []string{"remark", "bemerkung", "comment"}},
	spotPhoto:         {"photo", "foto", 1, nil},
}

// gapNames are columns of gaps, which are laps below 0.
var gapNames = map[string]bool{"gap_cm": true, "gap": true, "luecke_cm": true, "lücke_cm": true}

// spotKnown are the columns by their plain names, with the factor of their units.
var spotKnown = func() map[string]spotKey {
	known := map[string]spotKey{}
	for what := spotNone + 1; what < spotColumns; what++ {
		h := spotHeads[what]
		for _, name := range append([]string{h.english, h.german}, h.more...) {
			known[name] = spotKey{what, h.factor}
		}
		for name, unit := range map[string]float64{"m": 1, "cm": 0.01, "mm": 0.001} { // another unit than the usual
			for _, usual := range []string{h.english, h.german} {
				for _, end := range []string{"_cm", "_m"} {
					if base, ok := strings.CutSuffix(usual, end); ok {
						known[base+"_"+name] = spotKey{what, unit}
					}
				}
			}
		}
	}
	for name := range gapNames {
		known[name] = spotKey{spotLap, -0.01}
	}
	return known
}()

type spotKey struct {
	what   spotColumn
	factor float64
}

// spotMeaning is what a column is by its name.
func spotMeaning(title string) (spotColumn, float64) {
	k := spotKnown[plainName(title)]
	return k.what, k.factor
}

// Words of values, in lower case; English ones are written, or German beside German headings.
var (
	spotYes     = map[string]bool{"yes": true, "y": true, "1": true, "true": true, "x": true, "ja": true, "j": true, "no": false, "n": false, "0": false, "false": false, "nein": false}
	spotNothing = map[string]bool{"0": true, "none": true, "keine": true}
	spotReasons = map[string]string{"drawn": "drawn", "ausgelost": "drawn", "strip": "strip", "streifen": "strip", "gap": "gap", "lücke": "gap", "luecke": "gap", "by hand": "", "von hand": ""}
	spotHands   = map[string]string{"left": "left", "links": "left", "l": "left", "right": "right", "rechts": "right", "r": "right"}
	spotWays    = map[string]string{"opposite": "opposite", "gegen": "opposite", "entgegen": "opposite", "same": "same", "gleich": "same"}
)

// spotGerman are the words of values in a German table.
var spotGerman = map[string]string{"yes": "ja", "no": "nein", "none": "keine", "drawn": "ausgelost", "strip": "streifen", "gap": "luecke", "left": "links", "right": "rechts", "opposite": "gegen", "same": "gleich"}

// WriteSpots writes spot checks as a table that Spots reads back; blank ones are lines to be filled in. A German one has German
// headings, decimal commas and semicolons, as a spreadsheet there wants it.
func WriteSpots(w io.Writer, checks []geo.SpotCheck, german bool) error {
	t := spotWriter{mark: ",", german: german}
	if german {
		t.mark = ";"
	}
	var b strings.Builder
	for what := spotNone + 1; what < spotColumns; what++ {
		title := spotHeads[what].english
		if german {
			title = spotHeads[what].german
		}
		t.field(&b, what, title)
	}
	for _, c := range checks {
		for what := spotNone + 1; what < spotColumns; what++ {
			t.field(&b, what, t.text(c, what))
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

type spotWriter struct {
	mark   string
	german bool
}

// field writes a field, quoted where it must be, and ends the line after the last.
func (t spotWriter) field(b *strings.Builder, what spotColumn, text string) {
	if strings.ContainsAny(text, t.mark+"\"\n\r") || strings.TrimSpace(text) != text {
		text = `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
	}
	b.WriteString(text)
	if what == spotColumns-1 {
		b.WriteString("\n")
	} else {
		b.WriteString(t.mark)
	}
}

// number writes a number in the unit of its column; as many digits as tell it apart.
func (t spotWriter) number(v float64, what spotColumn) string {
	s := strconv.FormatFloat(v/spotHeads[what].factor, 'f', -1, 64)
	if short := strconv.FormatFloat(v/spotHeads[what].factor, 'f', 9, 64); len(short) < len(s) { // what the unit's factor leaves of rounding
		s = strings.TrimRight(strings.TrimRight(short, "0"), ".")
	}
	if t.german {
		s = strings.ReplaceAll(s, ".", ",")
	}
	return s
}

func (t spotWriter) word(s string) string {
	if g, ok := spotGerman[s]; ok && t.german {
		return g
	}
	return s
}

func (t spotWriter) text(c geo.SpotCheck, what spotColumn) string {
	some := func(v float64) string {
		if v == 0 {
			return ""
		}
		return t.number(v, what)
	}
	count := func(n int) string {
		if n == 0 {
			return ""
		}
		return strconv.Itoa(n)
	}
	places := func(list []geo.SpotValue) string {
		words := make([]string, len(list))
		for k, v := range list {
			words[k] = t.number(v.Value, what)
			if v.At >= 0 {
				words[k] = t.number(v.At, spotLon) + ":" + words[k]
			}
		}
		return strings.Join(words, " ")
	}
	names := func(list []geo.SpotNamed) string {
		words := make([]string, len(list))
		for k, n := range list {
			words[k] = n.What + ":" + t.number(n.Depth, what)
		}
		return strings.Join(words, " | ")
	}
	plants := func(cover bool) string {
		var words []string
		for _, p := range c.Plants {
			if p.Cover != cover {
				continue
			}
			s := p.Kind + ":" + t.number(p.Amount, what)
			if p.Stage >= 0 {
				s += fmt.Sprintf("@%d", p.Stage)
			}
			words = append(words, s)
		}
		if len(c.Plants) == 0 && c.Looked && !cover {
			return t.word("none")
		}
		return strings.Join(words, " | ")
	}
	switch what {
	case spotID:
		return c.ID
	case spotLon:
		if c.At != nil {
			return t.number(c.At[0], what)
		}
	case spotLat:
		if c.At != nil {
			return t.number(c.At[1], what)
		}
	case spotAccuracy:
		return some(c.Accuracy)
	case spotTime:
		if !c.Time.IsZero() {
			return c.Time.UTC().Format(time.RFC3339Nano)
		}
	case spotWhy:
		return t.word(string(c.Why))
	case spotOperation:
		return c.Operation
	case spotPass:
		return count(c.Pass)
	case spotSection:
		return count(c.Section)
	case spotStrip:
		return count(c.Strip)
	case spotFrom:
		if c.Length > 0 {
			return t.number(c.From, what)
		}
		return some(c.From)
	case spotLength:
		return some(c.Length)
	case spotWidth:
		return some(c.Width)
	case spotCut:
		return t.word(string(c.Cut))
	case spotRibs:
		return places(c.Ribs)
	case spotDepths:
		return places(c.Depths)
	case spotSmeared:
		return t.word(string(c.Smeared))
	case spotBurial:
		return names(c.Burial)
	case spotSeed:
		return names(c.Seed)
	case spotPlantsCounted, spotPlantsCover:
		return plants(what == spotPlantsCover)
	case spotVisit:
		return count(c.Visit)
	case spotUntreated:
		if c.Untreated {
			return t.word("yes")
		}
	case spotNote:
		return c.Note
	case spotPhoto:
		return c.Photo
	}
	if j := c.Join; j != nil {
		switch what {
		case spotHand:
			return t.word(map[bool]string{true: "left", false: "right"}[j.Left])
		case spotLap:
			return t.number(j.Lap, what)
		case spotWay:
			return t.word(map[bool]string{true: "same", false: "opposite"}[j.Same])
		case spotOther:
			return count(j.Other)
		}
	}
	return ""
}
