// Package sheet draws the map sheet of a checked operation, and a turn to scale, for people.
//
// In: coverage.Result or a turn judged, in metres on the field's local plane. Out: SVG. Hectares
// and per cent exist only here and on the terminal. It judges nothing.
package sheet
