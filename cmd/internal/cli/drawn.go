package cli

import (
	"balk/cmd/internal/job"

	"github.com/spf13/pflag"
)

// drawn adds the flags of how a verb draws its pictures.
func drawn(f *pflag.FlagSet, d *job.Drawn, what string) {
	f.StringVar((*string)(&d.Language), "language", "", "`CODE` of the language of the "+what+": en or de (en if not given)")
	f.StringSliceVar((*[]string)(&d.Pictures), "pictures", nil, "`FORMS` of the "+what+" beside SVG: png, pdf, or both with a comma")
}
