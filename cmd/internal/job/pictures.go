package job

import (
	"fmt"
	"io"
	"slices"

	"balk/export/sheet"
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
func (p Pictures) outputs(pages func() ([]*sheet.Leaf, error)) ([]output, error) {
	if len(p) == 0 {
		return nil, nil
	}
	leaves, err := pages()
	if err != nil {
		return nil, err
	}
	var files []output
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
