package paper

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"github.com/tdewolff/canvas"
	"github.com/tdewolff/font"
	"golang.org/x/text/unicode/norm"
)

// FontFolders are the folders where this machine keeps its fonts, those that are not there
// included: for Page.FontFolders.
func FontFolders() []string { return font.DefaultFontDirs() }

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
	var faces []face
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
		one, err := load(faces[k], lacking, texts)
		faces = slices.Delete(faces, k, k+1)
		if err != nil {
			continue
		}
		taken++
		f.regular, f.bold = append(f.regular, one), append(f.bold, one)
		f.outlined[one] = true
		for r := range lacking {
			if one.SFNT.GlyphIndex(r) != 0 {
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

// face is a font on the machine that has letters a sheet lacks.
type face struct {
	path   string
	start  uint32 // of it in the file
	has    []rune
	unlike int // how far from plain upright text
}

// best is the index of the face to take next; -1 if none has a letter.
func best(faces []face, lacking map[rune]bool) int {
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

// facesOf are the faces in a file that have some of the letters. A font that has none is no error.
func facesOf(path string, letters map[rune]bool) ([]face, error) {
	info, err := os.Stat(path) // before opening: a pipe would block
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("no file")
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	faces, err := readFaces(file, letters)
	for i := range faces {
		faces[i].path = path
	}
	return faces, err
}

// load reads a face whole and draws with it once, letter by letter and the texts that hold them: a font
// that cannot is an error.
func load(one face, lacking map[rune]bool, texts []string) (*canvas.Font, error) {
	file, err := os.Open(one.path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	b, err := alone(file, one.start)
	if err != nil {
		return nil, err
	}
	loaded, err := loadFont(b)
	if err != nil {
		return nil, err
	}
	var letters []rune
	for _, r := range one.has {
		if lacking[r] {
			letters = append(letters, r)
		}
	}
	for _, r := range letters {
		if loaded.SFNT.GlyphIndex(r) == 0 || !draws(loaded, string(r)) && !unicode.IsMark(r) {
			return nil, fmt.Errorf("draws nothing for U+%04X", r)
		}
	}
	for _, s := range texts {
		if strings.ContainsFunc(s, func(r rune) bool { return lacking[r] }) && !draws(loaded, norm.NFC.String(s)) {
			return nil, fmt.Errorf("does not draw %q", s)
		}
	}
	return loaded, nil
}

// draws says whether a font draws something for a text.
func draws(f *canvas.Font, s string) (ok bool) {
	defer func() {
		if recover() != nil { // a broken outline, whatever the reader makes of it
			ok = false
		}
	}()
	p, _, err := f.Face(10, canvas.Hex(Black)).ToPath(s)
	return err == nil && !p.Empty()
}
