package paper

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"unicode"

	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/font/opentype"
	"github.com/go-text/typesetting/font/opentype/tables"
	"golang.org/x/text/unicode/norm"
)

// FontFolders are the folders where this machine keeps its fonts, those that are not there
// included.
func FontFolders() []string {
	var out []string
	in := func(variable string, path ...string) {
		if root := os.Getenv(variable); root != "" {
			out = append(out, filepath.Join(append([]string{root}, path...)...))
		}
	}
	switch runtime.GOOS {
	case "windows":
		in("SYSTEMROOT", "Fonts")
		in("LOCALAPPDATA", "Microsoft", "Windows", "Fonts")
	case "darwin":
		out = []string{"/Library/Fonts", "/System/Library/Fonts"}
		in("HOME", "Library", "Fonts")
	default:
		out = []string{"/usr/share/fonts", "/usr/local/share/fonts"}
		in("HOME", ".fonts")
		in("HOME", ".local", "share", "fonts")
		in("XDG_DATA_HOME", "fonts")
	}
	return out
}

// mostMachineFonts bounds what one sheet loads. A font holds a script or many; texts in more
// scripts than that keep the numbers of their rarest letters, as said in the foot.
const mostMachineFonts = 8

// Seek looks in folders for fonts with those letters of texts that f lacks, and takes the
// fewest that have most of them (greedily); among equals the plainest, then the first by path. What they set
// is drawn as outlines. Of a font file that is looked at only the table of letters is read, and
// none is looked at where no letter is lacking. A folder that is not there and a font that cannot be
// read are passed over: their letters stay lacking, which the foot of the page says.
func (f *Fonts) Seek(folders []string, texts []string) {
	lacking := f.lacks(texts)
	if len(lacking) == 0 {
		return
	}
	var faces []candidate
	for _, path := range fontFiles(folders) {
		found, err := facesOf(path, lacking)
		if err != nil {
			continue
		}
		faces = append(faces, found...)
	}
	for taken := 0; taken < mostMachineFonts && len(lacking) > 0; {
		k := best(faces, lacking)
		if k < 0 {
			return
		}
		one, err := f.load(faces[k], lacking, texts)
		faces = slices.Delete(faces, k, k+1)
		if err != nil {
			continue
		}
		taken++
		f.regular, f.bold = append(f.regular, one), append(f.bold, one)
		for r := range lacking {
			if one.has(r) {
				delete(lacking, r)
			}
		}
	}
}

// lacks is the set of letters of texts that no font of f has, without those that show nothing
// and those whose shape is anybody's own (private use).
func (f *Fonts) lacks(texts []string) map[rune]bool {
	out := map[rune]bool{}
	for _, s := range texts {
		for _, r := range norm.NFC.String(s) {
			if r < unicode.MaxLatin1 || unicode.In(r, unicode.C, unicode.Z) || r == unicode.ReplacementChar {
				continue
			}
			if holder(f.regular, r) == nil {
				out[r] = true
			}
		}
	}
	return out
}

// candidate is a font on the machine that has letters a sheet lacks.
type candidate struct {
	path   string
	index  int // of it in the file
	has    []rune
	unlike int // how far from plain upright text
}

// best is the index of the face to take next; -1 if none has a letter.
func best(faces []candidate, lacking map[rune]bool) int {
	k, most := -1, 0
	for i, one := range faces {
		n := 0
		for _, r := range one.has {
			if lacking[r] {
				n++
			}
		}
		if n > most || n == most && n > 0 && one.unlike < faces[k].unlike {
			k, most = i, n
		}
	}
	return k
}

// fontFiles are the files of fonts in folders and below, in the order of the folders and then of
// their paths. Links to folders are not followed.
func fontFiles(folders []string) []string {
	var out []string
	seen := map[string]bool{}
	for _, folder := range folders {
		root, err := filepath.EvalSymlinks(folder)
		if err != nil {
			continue
		}
		filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			switch {
			case err != nil && d != nil && d.IsDir():
				return filepath.SkipDir
			case err != nil || d.IsDir() || seen[path]:
				return nil
			}
			seen[path] = true
			switch strings.ToLower(filepath.Ext(path)) {
			case ".ttf", ".otf", ".ttc", ".otc":
				out = append(out, path)
			}
			return nil
		})
	}
	return out
}

// mostFontSize is the largest font loaded, in bytes: some four times the usual East Asian one.
// Larger ones are pictures in colour.
const mostFontSize = 64 << 20

// Bits of a font's fsType (OpenType, table OS/2): without leave to embed, or in
// pictures only, its letters must not go into a file.
const (
	fontRestricted = 0x0002
	fontBitmapOnly = 0x0200
)

// source is a file of fonts.
type source interface {
	io.ReadSeeker
	io.ReaderAt
}

// open opens a file of fonts.
func open(path string) (*os.File, int64, error) {
	info, err := os.Stat(path) // before opening: a pipe would block
	if err != nil {
		return nil, 0, err
	}
	if !info.Mode().IsRegular() {
		return nil, 0, errors.New("no file")
	}
	file, err := os.Open(path)
	return file, info.Size(), err
}

// facesOf are the faces in a file that have some of the letters. A font that has none is no error.
func facesOf(path string, letters map[rune]bool) ([]candidate, error) {
	file, size, err := open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	faces, err := readFaces(file, size, letters)
	for i := range faces {
		faces[i].path = path
	}
	return faces, err
}

// readFaces reads which letters the fonts of a file so large have.
func readFaces(r source, size int64, letters map[rune]bool) ([]candidate, error) {
	fonts, err := loaders(r, size)
	if err != nil {
		return nil, err
	}
	var out []candidate
	for i, one := range fonts {
		if !one.HasTable(opentype.MustNewTag("glyf")) && !one.HasTable(opentype.MustNewTag("CFF ")) {
			continue
		}
		os2, _ := one.RawTable(opentype.MustNewTag("OS/2")) // may be missing
		has, err := lettersIn(one, os2, letters)
		if err != nil {
			return nil, err
		}
		if c := (candidate{index: i, has: has}); len(has) > 0 && mayEmbed(os2) {
			if len(os2) >= 64 {
				c.unlike = unlikeText(os2)
			}
			out = append(out, c)
		}
	}
	return out, nil
}

// loaders are the fonts of a file. One whose tables are larger than the file is refused before room is made for them.
func loaders(r source, size int64) ([]*opentype.Loader, error) {
	head, err := readAt(r, 0, 12)
	if err != nil {
		return nil, err
	}
	starts := []uint32{0}
	if string(head[:4]) == "ttcf" {
		n := int64(binary.BigEndian.Uint32(head[8:]))
		list, err := readAt(r, 12, 4*min(n, size/4))
		if err != nil {
			return nil, err
		}
		starts = starts[:0]
		for ; len(list) > 0; list = list[4:] {
			starts = append(starts, binary.BigEndian.Uint32(list))
		}
	} else if tag := string(head[:4]); tag != "\x00\x01\x00\x00" && tag != "OTTO" && tag != "true" {
		return nil, fmt.Errorf("no OpenType: begins with %q", tag)
	}
	const entry = 16 // bytes of one in a font's directory
	for _, start := range starts {
		head, err := readAt(r, int64(start), 12)
		if err != nil {
			return nil, err
		}
		list, err := readAt(r, int64(start)+12, entry*int64(binary.BigEndian.Uint16(head[4:])))
		if err != nil {
			return nil, err
		}
		for ; len(list) > 0; list = list[entry:] {
			if end := int64(binary.BigEndian.Uint32(list[8:])) + int64(binary.BigEndian.Uint32(list[12:])); end > size {
				return nil, fmt.Errorf("the table %q ends at %d of %d bytes", list[:4], end, size)
			}
		}
	}
	return opentype.NewLoaders(r)
}

func readAt(r io.ReaderAt, at, n int64) ([]byte, error) {
	b := make([]byte, n)
	if _, err := io.ReadFull(io.NewSectionReader(r, at, n), b); err != nil {
		return nil, err
	}
	return b, nil
}

// lettersIn gives those letters that a font has, sorted.
func lettersIn(one *opentype.Loader, os2 []byte, letters map[rune]bool) ([]rune, error) {
	raw, err := one.RawTable(opentype.MustNewTag("cmap"))
	if err != nil {
		return nil, err
	}
	table, _, err := tables.ParseCmap(raw)
	if err != nil {
		return nil, err
	}
	known, _, _ := tables.ParseOs2(os2) // of version 0 it tells old Arabic codes
	cmap, _, err := font.ProcessCmap(table, known.FontPage())
	if err != nil {
		return nil, err
	}
	var has []rune
	for r := range letters {
		if g, ok := cmap.Lookup(r); ok && g != 0 {
			has = append(has, r)
		}
	}
	slices.Sort(has)
	return has, nil
}

// mayEmbed says whether the letters of a font with this table OS/2 may go into a file.
func mayEmbed(os2 []byte) bool {
	return len(os2) < 10 || binary.BigEndian.Uint16(os2[8:])&(fontRestricted|fontBitmapOnly) == 0
}

// unlikeText is how far a font lies from plain upright text by its table OS/2: its weight from 400,
// widths from normal, slant, and handwriting, decoration or symbols (PANOSE) count.
func unlikeText(os2 []byte) int {
	weight, width := int(binary.BigEndian.Uint16(os2[4:])), int(binary.BigEndian.Uint16(os2[6:]))
	unlike := max(weight-400, 400-weight) + 100*max(width-5, 5-width)
	if family := os2[32]; family > 2 {
		unlike += 500
	}
	if binary.BigEndian.Uint16(os2[62:])&(1<<0|1<<9) != 0 { // italic, oblique
		unlike += 1000
	}
	return unlike
}

// load reads a face whole and draws with it once, letter by letter and the texts that hold them: a font
// that cannot is an error.
func (f *Fonts) load(c candidate, lacking map[rune]bool, texts []string) (loaded *face, err error) {
	defer func() {
		if p := recover(); p != nil { // a broken font, whatever the reader makes of it
			loaded, err = nil, fmt.Errorf("broken: %v", p)
		}
	}()
	file, size, err := open(c.path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	if size > mostFontSize {
		return nil, fmt.Errorf("%d bytes: at most %d are read", size, mostFontSize)
	}
	fonts, err := loaders(file, size)
	if err != nil {
		return nil, err
	}
	one, err := font.NewFont(fonts[c.index])
	if err != nil {
		return nil, err
	}
	loaded = newFace(one, "")
	for _, r := range c.has {
		if lacking[r] && !unicode.IsMark(r) && !f.draws(loaded, string(r)) {
			return nil, fmt.Errorf("draws nothing for U+%04X", r)
		}
	}
	for _, s := range texts {
		if strings.ContainsFunc(s, func(r rune) bool { return lacking[r] }) && !f.draws(loaded, norm.NFC.String(s)) {
			return nil, fmt.Errorf("does not draw %q", s)
		}
	}
	return loaded, nil
}

// draws says whether a font draws something for a text.
func (f *Fonts) draws(with *face, s string) bool {
	for _, g := range f.shape(with, []rune(s), false).glyphs {
		if len(with.outline(g.id)) > 0 {
			return true
		}
	}
	return false
}
