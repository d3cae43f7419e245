// Package sheet draws work on a field for people: a checked operation as a map (Map) and as the sheet to print (Pages, PDF),
// with map, balance, strips, detail maps, effort, turns and cautions; and before the work a turn to scale (Turn), the row
// ends of a field (RowEnds), plans side by side (Plans) and the sheet of one of them (PlanPages, PlanPDF).
//
// In: coverage.Result, a turn judged or a plan, in metres on the field's local plane; Page, what people want
// on the paper beside it. Out: leaves of export/sheet/paper, which are PDF, SVG and PNG, in English or German (Page.Language).
// Hectares, per cent, degrees and local time exist only here and on the terminal. It judges nothing, reads no
// clock, and no files but fonts in the folders that Page.FontFolders names: the same input, with the same
// fonts there, gives the same bytes.
package sheet
