package record

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"balk/geo"
)

// Language is that of the text.
type Language string

const (
	English Language = "en"
	German  Language = "de"
)

// Languages lists them.
func Languages() []Language { return []Language{English, German} }

// ParseLanguage reads a language by its ISO 639-1 code.
func ParseLanguage(s string) (Language, error) {
	for _, l := range Languages() {
		if s == string(l) {
			return l, nil
		}
	}
	return "", fmt.Errorf("language %q: must be one of %v", s, Languages())
}

// words are all that the text says.
type words struct {
	title, field, number, operation, implement, driver, client, from, to, width, overlap string
	areas, area, credited, double, missed, between, error95, unknown, outside, ofField   string
	work, passes, way, working, turning, standing, onField, speed, capacity, efficiency  string
	fuel, perHectare, strips, remarks, signature, notLogged, notGiven, cautionHead       string
	caution, mixed, noDate, depth, counted                                               string
	sources                                                                              map[string]string // who says how wide the bar is
}

var lexicon = map[Language]words{
	English: {
		title: "Record of work", field: "Field", number: "number in the boundary file", operation: "Operation", implement: "Implement", driver: "Driver", client: "For",
		from: "From", to: "To", width: "Working width",
		noDate: "no date logged", depth: "Working depth (logged, mean)", counted: "by the machine's counter", mixed: "%s to %s m, the whole bar on %s %% of the way", sources: map[string]string{"given": "given", "implement file": "implement file", "logged": "logged"}, overlap: "Planned overlap",
		areas: "Areas at credited width", area: "Field", credited: "Worked", double: "of it twice or more", missed: "Missed", between: "between %s and %s, given the receiver",
		error95: "Pass-to-pass error (95 %)", unknown: "Unknown (log gap)", outside: "Worked outside the boundary", ofField: "of the field",
		work: "Work", passes: "Passes", way: "Way of work", working: "Working time", turning: "Turning", standing: "Standing", onField: "Time on the field",
		speed: "Mean working speed", capacity: "Effective field capacity", efficiency: "Field efficiency",
		fuel: "Fuel", perHectare: "per hectare", strips: "Missed strips listed", remarks: "Remarks", signature: "Date, signature", notLogged: "not logged", notGiven: "not given",
		cautionHead: "Cautions",
		caution: "Areas are those of a receiver's log and no legal survey. Before anyone drives there again: watch overhead lines when folding, slopes and rollover, wet ground and drains, " +
			"drawbar and axle loads, the drawbar folding when reversing, road width and permits, people nearby and buried services. Local rules, the machine's manual and licensed practice come first.",
	},
	German: {
		title: "Arbeitsnachweis", field: "Schlag", number: "Nummer in der Grenzdatei", operation: "Arbeitsgang", implement: "Gerät", driver: "Fahrer", client: "Für",
		from: "Von", to: "Bis", width: "Arbeitsbreite",
		noDate: "kein Datum aufgezeichnet", depth: "Arbeitstiefe (aufgezeichnet, Mittel)", counted: "laut Zähler der Maschine", mixed: "%s bis %s m, ganz auf %s %% des Weges", sources: map[string]string{"given": "angegeben", "implement file": "Gerätedatei", "logged": "aufgezeichnet"}, overlap: "Geplante Überlappung",
		areas: "Flächen bei angerechneter Breite", area: "Schlag", credited: "Bearbeitet", double: "davon zweimal oder öfter", missed: "Ausgelassen", between: "zwischen %s und %s, je nach Empfänger",
		error95: "Spur-zu-Spur-Fehler (95 %)", unknown: "Unbekannt (Lücke im Protokoll)", outside: "Außerhalb der Grenze bearbeitet", ofField: "des Schlags",
		work: "Arbeit", passes: "Fahrten", way: "Arbeitsweg", working: "Arbeitszeit", turning: "Wenden", standing: "Stehen", onField: "Zeit auf dem Schlag",
		speed: "Mittlere Arbeitsgeschwindigkeit", capacity: "Flächenleistung", efficiency: "Ausnutzungsgrad",
		fuel: "Kraftstoff", perHectare: "je Hektar", strips: "Aufgeführte Fehlstreifen", remarks: "Bemerkungen", signature: "Datum, Unterschrift", notLogged: "nicht aufgezeichnet", notGiven: "nicht angegeben",
		cautionHead: "Hinweise",
		caution: "Die Flächen stammen aus dem Protokoll eines Empfängers und sind keine amtliche Vermessung. Bevor dort wieder gefahren wird: auf Freileitungen beim Klappen, Hänge und Kippgefahr, nassen Boden und Dräne, " +
			"Deichsel- und Achslasten, das Einknicken der Deichsel beim Rückwärtsfahren, Fahrzeugbreite und Genehmigungen, Personen in der Nähe und verlegte Leitungen achten. Örtliche Vorschriften, die Betriebsanleitung und die Fachpraxis gehen vor.",
	},
}

// number writes v with so many decimals, as the language does.
func (l Language) number(v float64, decimals int) string {
	return l.digits(strconv.FormatFloat(v, 'f', decimals, 64))
}

// digits writes a number that is written with a decimal point.
func (l Language) digits(s string) string {
	if l == German {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}

// instant writes a local time with its zone.
func (l Language) instant(t time.Time, zone *time.Location) string {
	if zone == nil {
		zone = time.UTC
	}
	layout := "2006-01-02 15:04 MST"
	if l == German {
		layout = "02.01.2006 15:04 MST"
	}
	if !geo.Dated(t) {
		return t.Format("15:04") + " (" + lexicon[l].noDate + ")"
	}
	return t.In(zone).Format(layout)
}
