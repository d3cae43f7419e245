// Package sheet draws the map sheet of a checked operation for people.
//
// In: coverage.Result, in metres on the field's local plane. Out: SVG. Hectares
// and per cent exist only here and on the terminal. It judges nothing.
package sheet
