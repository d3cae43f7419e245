package job

import (
	"errors"

	"balk/coverage/rig"
	"balk/export/record"
	"balk/export/sheet"
	"balk/export/sheet/paper"
	"balk/export/words"
)

// Paperwork is what people want to read on what is handed over, and in which form.
type Paperwork struct {
	Details  record.Details `json:"details"`
	Paper    string         `json:"paper,omitempty"`    // "A4" or "A3"; "" = A4
	Pictures Pictures       `json:"pictures,omitempty"` // that are made of the sheet's pages too
	Language words.Language `json:"language"`
	Sweeps   bool           `json:"sweeps,omitempty"` // a page of the sheet with the layout of the sweeps
}

// Validate says what is wrong with p for a set.
func (p Paperwork) Validate(im rig.Implement) error {
	if p.Sweeps && !im.OfBar(0).Sweeps.Known() {
		return errors.New("a page of the sweeps is wanted: the implement file must say where they stand (balk help implement)")
	}
	if err := p.Language.Validate(); err != nil {
		return err
	}
	if err := p.Details.Validate(); err != nil {
		return err
	}
	if err := p.page().Validate(); err != nil {
		return err
	}
	return p.Pictures.Validate()
}

// page is the paper of the sheet.
func (p Paperwork) page() sheet.Page {
	d := p.Details
	return sheet.Page{Paper: p.Paper, Language: p.Language, Operation: d.Operation, Implement: d.Implement, Driver: d.Driver, Remarks: d.Remarks, Zone: d.Zone, FontFolders: paper.FontFolders()}
}

// pageWith is page with what is asked for of the set.
func (p Paperwork) pageWith(im rig.Implement) sheet.Page {
	page := p.page()
	if im = im.OfBar(0); p.Sweeps {
		page.Sweeps = &sheet.SweepsPlan{Implement: im, Axle: im.Mount.Pivot()}
	}
	return page
}
