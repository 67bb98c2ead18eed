package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"feederwright/internal/atomicfile"
	"feederwright/study"
)

func newSet() *cobra.Command {
	return &cobra.Command{
		Use:   "set FILE PATH VALUE",
		Short: "Change one value of a study file in place; every other byte stays",
		Long: `Set changes one value in a study file. Comments, order, number style and line
ends stay as they are. The file is read again before it is replaced, and left
alone where the result would not be what was meant.

PATH is the way to the value, its keys joined with ' / '.`,
		Example: `  feederwright set my-study/study.yaml "lines / P1-P2 / length" "3.4 mi"`,
		Args:    cobra.ExactArgs(3),
		RunE: func(c *cobra.Command, args []string) error {
			at, err := study.ParsePath(args[1])
			if err != nil {
				return err
			}
			old, err := os.ReadFile(args[0])
			if err != nil {
				return err
			}
			text, err := study.SetScalar(filepath.Base(args[0]), old, at, args[2])
			if err != nil {
				return err
			}
			if err := atomicfile.Write(args[0], text); err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "%s: %s is now %s\n", args[0], at, args[2])
			return nil
		},
	}
}
