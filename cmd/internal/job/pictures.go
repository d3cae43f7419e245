package job

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"balk/cmd/internal/folder"
	"balk/export/sheet"
	"balk/export/sheet/paper"
	"balk/export/words"
)

// Pictures are forms of drawings: those in which the pages of a sheet are drawn beside the PDF, and other drawings beside SVG.
type Pictures []string

const (
	pictureSVG = "svg"
	picturePNG = "png"
	picturePDF = "pdf"
	// pictureDPI of PNG: a page of A4 is 1240 × 1754 dots.
	pictureDPI = 150
	// mostPages a sheet has: front, details, list, re-work, how it was driven, remarks, sweeps.
	mostPages = 7
)

// Validate says what is wrong with p as forms of a sheet's pages.
func (p Pictures) Validate() error { return p.among(pictureSVG, picturePNG) }

func (p Pictures) among(forms ...string) error {
	for _, form := range p {
		if !slices.Contains(forms, form) {
			return fmt.Errorf("pictures %q: must be one of %s", form, strings.Join(forms, ", "))
		}
	}
	return nil
}

// names are those of the files of a sheet with any number of pages.
func (p Pictures) names() []string {
	var names []string
	for page := range mostPages {
		for _, form := range p {
			names = append(names, pictureName(page, form))
		}
	}
	return names
}

func pictureName(page int, form string) string { return fmt.Sprintf("sheet-%d.%s", page+1, form) }

// outputs are the files of the pages; pages is asked only where there are any.
func (p Pictures) outputs(pages func() ([]*paper.Leaf, error)) ([]output, error) {
	if len(p) == 0 {
		return nil, nil
	}
	var files []output
	var leaves []*paper.Leaf
	err := folder.Safely(func() (err error) { leaves, err = pages(); return err })
	if broken, ok := errors.AsType[*folder.Panic](err); ok {
		for _, form := range p {
			files = append(files, faulty(pictureName(0, form), broken))
		}
		return files, nil
	}
	if err != nil {
		return nil, err
	}
	for i, l := range leaves {
		if slices.Contains(p, pictureSVG) {
			files = append(files, output{name: pictureName(i, pictureSVG), write: l.SVG})
		}
		if slices.Contains(p, picturePNG) {
			files = append(files, output{name: pictureName(i, picturePNG), write: func(w io.Writer) error { return l.PNG(w, pictureDPI) }})
		}
	}
	return files, nil
}

// forms are the names of the files of a drawing: as SVG, as it is named, and in the other forms that are asked for.
func (p Pictures) forms(name string) []string {
	names := []string{name}
	for _, form := range []string{picturePNG, picturePDF} {
		if slices.Contains(p, form) {
			names = append(names, strings.TrimSuffix(name, pictureSVG)+form)
		}
	}
	return names
}

// with are names of files with the forms of the drawings among them.
func (p Pictures) with(names []string) []string {
	var out []string
	for _, name := range names {
		if strings.HasSuffix(name, "."+pictureSVG) {
			out = append(out, p.forms(name)...)
		} else {
			out = append(out, name)
		}
	}
	return out
}

// drawing is a picture of one page in all its forms.
func (p Pictures) drawing(name string, draw func() (*paper.Leaf, error)) []output {
	var files []output
	for _, name := range p.forms(name) {
		files = append(files, output{name: name, write: func(w io.Writer) error {
			l, err := draw()
			switch {
			case err != nil:
				return err
			case strings.HasSuffix(name, picturePNG):
				return l.PNG(w, pictureDPI)
			case strings.HasSuffix(name, picturePDF):
				return paper.PDF(w, []*paper.Leaf{l}, time.Time{})
			}
			return l.SVG(w)
		}})
	}
	return files
}

// Drawn is how the drawings of a verb are made.
type Drawn struct {
	Language words.Language `json:"language,omitempty"` // of their words; "" = English
	Pictures Pictures       `json:"pictures,omitempty"` // forms beside SVG
}

// Validate says what is wrong with d.
func (d Drawn) Validate() error {
	if err := d.page().Validate(); err != nil {
		return err
	}
	return d.Pictures.among(pictureSVG, picturePNG, picturePDF)
}

// page is what the drawings are drawn on.
func (d Drawn) page() sheet.Page {
	return sheet.Page{Language: d.Language, FontFolders: paper.FontFolders()}
}
