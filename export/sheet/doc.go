// Package sheet draws a checked operation for people: the map for a screen (SVG) and
// the sheet to print (Pages, PDF), with map, balance, strips, detail maps, effort,
// turns and cautions; and before the work turns to scale, row ends and plans (SVG).
//
// In: coverage.Result, a turn judged or a plan, in metres on the field's local plane; Page, what people want
// on the paper beside it. Out: SVG; PDF, SVG and PNG of the same pages, drawn
// once, on leaves of export/sheet/paper, in English or German (Page.Language;
// the map, drawings and plans as SVG are in English). Hectares, per cent, degrees and
// local time exist only here and on the terminal. It judges nothing, reads no
// clock, and no files but fonts in the folders that Page.FontFolders names: the same input, with the same
// fonts there, gives the same bytes.
package sheet
