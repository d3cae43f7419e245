package job

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"balk/cmd/internal/folder"
	"balk/export/sheet"
	"balk/export/sheet/paper"
)

// Pictures are the forms in which the pages of a sheet are drawn beside the PDF.
type Pictures []string

const (
	pictureSVG = "svg"
	picturePNG = "png"
	// pictureDPI of PNG: a page of A4 is 1240 × 1754 dots.
	pictureDPI = 150
	// mostPages a sheet has: front, details, list, how it was driven, remarks.
	mostPages = 5
)

// Validate says what is wrong with p.
func (p Pictures) Validate() error {
	for _, form := range p {
		if form != pictureSVG && form != picturePNG {
			return fmt.Errorf("pictures %q: must be %s or %s", form, pictureSVG, picturePNG)
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

// drawing is a file that holds a picture of one page.
func drawing(name string, draw func() (*paper.Leaf, error)) output {
	return output{name: name, write: func(w io.Writer) error {
		l, err := draw()
		if err != nil {
			return err
		}
		return l.SVG(w)
	}}
}

// Drawn is how the pictures of a verb are drawn.
type Drawn struct {
	Language string `json:"language,omitempty"` // of their words; "" = English
}

// page is what the pictures are drawn on.
func (d Drawn) page() sheet.Page {
	return sheet.Page{Language: sheet.Language(d.Language), FontFolders: paper.FontFolders()}
}
