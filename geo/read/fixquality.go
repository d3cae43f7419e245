package read

import (
	"strings"

	"balk/geo"
)

// qualityWords are the words logs use for how a fix was won: those of the fix
// element of GPX 1.1 (none, 2d, 3d, dgps, pps), and common practice, no source.
var qualityWords = map[string]geo.Quality{
	"none": geo.QualityNone, "no fix": geo.QualityNone, "invalid": geo.QualityNone,
	"2d": geo.QualitySingle, "3d": geo.QualitySingle, "pps": geo.QualitySingle, "single": geo.QualitySingle, "gps": geo.QualitySingle, "autonomous": geo.QualitySingle,
	"dgps": geo.QualityDifferential, "dgnss": geo.QualityDifferential, "sbas": geo.QualityDifferential, "differential": geo.QualityDifferential,
	"float": geo.QualityFloat, "rtk float": geo.QualityFloat, "float rtk": geo.QualityFloat,
	"fixed": geo.QualityFixed, "fix": geo.QualityFixed, "rtk": geo.QualityFixed, "rtk fixed": geo.QualityFixed, "rtk fix": geo.QualityFixed, "fixed rtk": geo.QualityFixed,
	"estimated": geo.QualityEstimated, "dead reckoning": geo.QualityEstimated, "manual": geo.QualityEstimated, "simulated": geo.QualityEstimated,
	"unknown": geo.QualityUnknown,
}

// qualityText reads a fix quality from a word.
func qualityText(b []byte) (geo.Quality, bool) {
	q, ok := qualityWords[string(b)]
	if !ok {
		q, ok = qualityWords[strings.NewReplacer("_", " ", "-", " ").Replace(strings.ToLower(strings.TrimSpace(string(b))))]
	}
	return q, ok
}

// loggedQuality is the quality that stands as a number in a column of values; NaN is
// not logged.
func loggedQuality(v float64) geo.Quality {
	if v >= 0 && v <= float64(geo.QualityEstimated) {
		return geo.Quality(v)
	}
	return geo.QualityUnknown
}
