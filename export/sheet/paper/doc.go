// Package paper is a page that is drawn once and written as PDF, SVG or PNG: Leaf. Places on it are in
// millimetres from its upper left corner, colours are "#RRGGBB" or, with how opaque they are, "#RRGGBBAA".
//
// In: lines and rings in millimetres, words with how they are set (Lettering), fonts. Out: the three forms, and
// how much room words take. It knows nothing of fields, reads no clock, and no files but fonts in the folders it is given:
// the same input, with the same fonts there, gives the same bytes.
//
// NOTICE. The sheet is set in DejaVu Sans Condensed 2.37, regular and bold, from the
// module github.com/go-fonts/dejavu (packed in the folder fonts), and carries the letters it uses. The fonts are
// (c) Bitstream, Inc. (2003, Bitstream Vera is a trademark of Bitstream, Inc.) and
// (c) Tavmjong Bah (2006, Arev), with DejaVu changes in the public domain. Their
// licence, fonts/LICENSE-DejaVu, allows to use, copy, embed and
// redistribute them free of charge. They hold Latin, Greek, Cyrillic, Armenian, Georgian,
// Arabic, Hebrew and some smaller scripts; for others there are folders (Fonts.Seek), whose fonts draw their letters as
// outlines: the file then holds no font of them. In a PDF the words lie unseen over all that is drawn, so that a search
// finds them, but for letters beyond the first 65536. A letter that no font has stands as its number in Unicode, and the foot
// of the page says so. Text that runs from the right is ordered by the Unicode bidirectional algorithm, and
// letters are joined and stacked as their fonts say.
package paper
