// Package coverage judges the work of one operation on a field: how the ground came off, every missed strip with its
// cause and how sure it is, effort, and the spacing of passes.
//
// In: geo.Field, geo.Track, drive.Work (the implement and the limits). Out: Result, all in metres on the field's local
// plane. Passes are made in drive and laid over the field in ground; Check puts both together. It reads and writes no
// files.
package coverage
