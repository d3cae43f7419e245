package cli

import (
	"fmt"
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
			for _, n := range farm.Names {
				if _, err := fmt.Fprintln(v.out, filepath.Join(args[0], n)); err != nil {
					return &stop{couldNot, err}
				}
			}
			return nil
		},
	}
	c.Flags().Uint64Var(&seed, "seed", 1, "another seed, another receiver error")
	once(c.Flags(), "seed")
	return c
}
