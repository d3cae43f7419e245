package job

import (
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
}

// Validate says what is wrong with p.
func (p Paperwork) Validate() error {
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
