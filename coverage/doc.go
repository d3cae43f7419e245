// Package coverage judges work: it takes a field and the tracks of one
// operation to passes, swaths, balance, headland and missed strips.
//
// In: geo.Field, geo.Track, Work (the implement and the limits). Out: Result, all
// in metres on the field's local plane. It reads and writes no files.
package coverage
