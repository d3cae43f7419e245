// Package sheet draws a checked operation for people: the map for a screen (SVG) and
// the sheet to print (Pages, PDF), with map, balance, strips, detail maps, effort,
// turns and cautions; and before the work turns to scale, row ends and plans (SVG).
//
// In: coverage.Result, a turn judged or a plan, in metres on the field's local plane; Page, what people want
// on the paper beside it. Out: SVG; PDF, SVG and PNG of the same pages, drawn
// once, in millimetres from the upper left corner, in English or German (Page.Language;
// the map, drawings and plans as SVG are in English). Hectares, per cent, degrees and
// local time exist only here and on the terminal. It judges nothing, reads no
// clock, and no files but fonts in the folders that Page.FontFolders names: the same input, with the same
// fonts there, gives the same bytes.
//
// NOTICE. The sheet is set in DejaVu Sans Condensed 2.37, regular and bold, from the
// module github.com/go-fonts/dejavu, and carries the letters it uses. The fonts are
// (c) Bitstream, Inc. (2003, Bitstream Vera is a trademark of Bitstream, Inc.) and
// (c) Tavmjong Bah (2006, Arev), with DejaVu changes in the public domain. Their
// licence, in that module as LICENSE-DejaVu, allows to use, copy, embed and
// redistribute them free of charge. They hold Latin, Greek, Cyrillic, Armenian, Georgian,
// Arabic, Hebrew and some smaller scripts; for others give Page.Fonts, which are embedded, or
// Page.FontFolders, whose fonts draw their letters as outlines: the file then holds no font of them, and a
// search does not find the words. A letter that no font has stands as its number in Unicode, and the foot
// of the page says so. Text that runs from the right is ordered by the Unicode bidirectional algorithm, and
// letters are joined and stacked as their fonts say.
package sheet
