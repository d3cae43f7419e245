package read

import "strings"

// What columns of a table are called in German, French, Spanish and Dutch, as plainName gives it and without accents; common
// practice, no source. French and English share longitude, latitude, date and section.
var foreignNames = wordsOf(map[column]string{
	lonColumn:     "laengengrad langengrad geographische_lange geogr_lange geo_lange lange_wgs84 longitud lengtegraad gps_lange gps_longitud gps_lengtegraad",
	latColumn:     "breitengrad geographische_breite geogr_breite geo_breite breite_wgs84 latitud breedtegraad gps_breite gps_latitud gps_breedtegraad",
	dateColumn:    "datum jour fecha dia dag gps_datum fecha_gps date_gps",
	timeColumn:    "uhrzeit zeit zeitstempel zeitpunkt datum_zeit datum_uhrzeit datum_und_uhrzeit gps_zeit heure horodatage date_heure date_et_heure dateheure heure_gps hora tiempo fecha_hora fecha_y_hora fechahora marca_de_tiempo hora_gps tijd tijdstip tijdstempel datum_tijd datum_en_tijd gps_tijd",
	speedColumn:   "geschwindigkeit fahrgeschwindigkeit tempo gps_geschwindigkeit vitesse vitesse_d_avancement vitesse_gps velocidad velocidad_gps velocidad_de_avance snelheid rijsnelheid gps_snelheid",
	courseColumn:  "fahrtrichtung kurs richtung cap rumbo curso direccion koers richting rijrichting",
	widthColumn:   "arbeitsbreite largeur largeur_de_travail largeur_travail ancho anchura ancho_de_trabajo ancho_trabajo anchura_de_trabajo werkbreedte",
	stateColumn:   "arbeitsstellung arbeit arbeitszustand arbeitsstatus arbeitsposition in_arbeit gerat_unten gesenkt abgesenkt ausgehoben gehoben etat etat_de_travail etat_travail travail en_travail au_travail outil_baisse outil_abaisse abaisse releve estado estado_de_trabajo trabajo en_trabajo trabajando bajado apero_bajado levantado werk werkstand werkstatus werkpositie in_werk aan_het_werk werkend neergelaten werktuig_neer geheven opgetild lifted raised",
	qualityColumn: "fixqualitat fix_qualitat gps_qualitat qualitat qualite qualite_gps calidad calidad_gps kwaliteit gps_kwaliteit",
	heightColumn:  "hohe hoehe gps_hohe hohe_u_nn meereshohe altitud altura hoogte gps_hoogte hauteur altitude_gps",
	sectionColumn: "teilbreite teilbreiten_nr troncon seccion sectie",
	passColumn:    "bahn fahrspur uberfahrt passage pasada werkgang",
})

// liftedNames are columns of work states in which yes means that the tool is lifted.
var liftedNames = map[string]bool{"ausgehoben": true, "gehoben": true, "releve": true, "levantado": true, "geheven": true, "opgetild": true, "lifted": true, "raised": true}

// placeNames are pairs of longitude and latitude of which the one alone may mean something else, such as a length and a width.
var placeNames = [][2]string{{"lange", "breite"}, {"laenge", "breite"}, {"lengte", "breedte"}}

// mapNames are the names of columns with places on a map, first the one to the east; they mean that only where a system is named.
// Common practice, no source.
var mapNames = [][2]string{{"x", "y"}, {"easting", "northing"}, {"east", "north"}, {"e", "n"}, {"x_coord", "y_coord"}, {"rechtswert", "hochwert"}, {"ostwert", "nordwert"}, {"rechts", "hoch"},
	{"x_koordinate", "y_koordinate"}, {"abscisse", "ordonnee"}, {"est", "nord"}, {"coordonnee_x", "coordonnee_y"}, {"este", "norte"}, {"coordenada_x", "coordenada_y"}, {"utm_x", "utm_y"}, {"oost", "noord"}, {"x_coordinaat", "y_coordinaat"}, {"rd_x", "rd_y"}}

func wordsOf(table map[column]string) map[string]column {
	all := map[string]column{}
	for c, words := range table {
		for w := range strings.FieldsSeq(words) {
			all[w] = c
		}
	}
	return all
}

// accents are the letters of the four languages without theirs.
var accents = strings.NewReplacer("ä", "a", "ö", "o", "ü", "u", "ß", "ss", "à", "a", "â", "a", "ç", "c", "é", "e", "è", "e", "ê", "e", "ë", "e", "î", "i", "ï", "i", "ô", "o", "ù", "u", "û", "u", "œ", "oe",
	"á", "a", "í", "i", "ó", "o", "ú", "u", "ñ", "n")

// namedColumn is the column of a name as plainName gives it, in any of the languages.
func namedColumn(plain string) (c column, ok bool) {
	if c, ok = tableNames[plain]; ok {
		return c, true
	}
	c, ok = foreignNames[accents.Replace(plain)]
	return c, ok
}

// thousands is a number of a map whose thousands are set apart, as 5.334.234,12, without what sets them apart; b itself if it is none.
func thousands(b []byte) []byte {
	var out []byte
	mark, group := byte(0), 0
	for i, c := range b {
		switch {
		case c-'0' < 10:
			out = append(out, c)
			group++
		case (c == '.' || c == ',' || c == '\'' || c == ' ') && i > 0 && (mark == 0 && group <= 3 || c == mark && group == 3):
			mark, group = c, 0
		case (c == '.' || c == ',') && mark != 0 && c != mark && group == 3:
			return append(append(out, '.'), b[i+1:]...)
		case i == 0 && c == '-':
			out = append(out, c)
		default:
			return b
		}
	}
	if mark == 0 || group != 3 {
		return b
	}
	return out
}
