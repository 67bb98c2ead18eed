package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"feederwright/internal/atomicfile"
	"feederwright/internal/onefile"
	"feederwright/study"
)

func newSet() *cobra.Command {
	return &cobra.Command{
		Use:   "set FILE PATH VALUE",
		Short: "Change one value of a study file in place; every other byte stays",
		Long: `Set changes one value in a study file. Comments, order, number style and line
ends stay as they are. The file is read again before it is replaced, and left
alone where the result would not be what was meant, or the value not understood.

PATH is the way to the value, its keys joined with ' / '.`,
		Example: `  feederwright set my-study/study.yaml "lines / P1-P2 / length" "3.4 mi"`,
		Args:    exactly(3, "a file, the path of a value in it, and the value"),
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
			if worse := newErrors(filepath.Base(args[0]), old, text); len(worse) > 0 {
				if err := study.Render(c.ErrOrStderr(), worse); err != nil {
					return err
				}
				return fmt.Errorf("%s was not changed: %s would not be understood there", args[0], args[2])
			}
			if err := atomicfile.Write(args[0], text); err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "%s: %s is now %s\n", args[0], at, args[2])
			return nil
		},
	}
}

// newErrors are the errors of a file, read by itself, that an edit brings in.
// What it includes, and names that other files define, are no part of it: the
// edited file is missing those before and after.
func newErrors(name string, before, after []byte) study.Diagnostics {
	had := make(map[string]bool)
	_, ds := study.Read(onefile.FS{Name: name, Text: before}, name)
	for _, d := range ds {
		had[d.Object+d.Problem] = true
	}
	_, ds = study.Read(onefile.FS{Name: name, Text: after}, name)
	var worse study.Diagnostics
	for _, d := range ds {
		if d.Severity == study.Error && !had[d.Object+d.Problem] && !strings.Contains(d.Problem, "there is no ") {
			worse = append(worse, d)
		}
	}
	return worse
}
