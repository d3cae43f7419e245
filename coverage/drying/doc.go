// Package drying tells what the weather asked of a field since a cut: the drying demand of the air, the rain, and
// the warmth that lets the next weeds come up.
//
// In: the readings of a station (°C, %, m/s, MJ/m², mm; seconds since 1970 UTC), and where it stands. Out: mm and
// degree days.
//
// The demand is the reference evapotranspiration of FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes, Smith
// 1998), in comments "FAO-56" with the number of the equation. It is what well-watered short grass would lose, so it
// is a demand of the air: whether ground or uprooted plants dried is not said here. No forecast is made and nothing
// is fetched.
package drying
