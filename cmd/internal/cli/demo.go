package cli

import (
	"fmt"
	"io"
	"path/filepath"

	"balk/cmd/internal/demo"

	"github.com/spf13/cobra"
)

// demonstrate is the verb "balk demo".
func demonstrate(v *voice) *cobra.Command {
	var seed uint64
	c := &cobra.Command{
		Use:  "demo DIR",
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			farm, err := demo.Write(c.Context(), args[0], seed, v.say)
			if err != nil {
				return &stop{couldNot, err}
			}
			return v.readable(func(w io.Writer) error {
				in := func(name string) string { return filepath.Join(args[0], name) }
				b := new(telling)
				b.text(fmt.Sprintf("%s holds an invented farm: three fields, two sets, their logs, weather and spot checks. README.txt says what is wrong with it on purpose. Begin with", args[0]), "")
				fmt.Fprintf(&b.b, "\n  balk check %s %s --implement %s --rounds 3\n", in("fields.geojson"), in("track-pond.geojson"), in("sweep-mounted.toml"))
				var files []string
				for _, n := range farm.Names {
					files = append(files, in(n))
				}
				return b.closing(w, files, "")
			})
		},
	}
	c.Flags().Uint64Var(&seed, "seed", 1, "another seed, another receiver error")
	once(c.Flags(), "seed")
	return c
}
