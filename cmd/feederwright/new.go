package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"feederwright/examples"
	"feederwright/internal/atomicfile"
	"feederwright/study"
)

func newNew() *cobra.Command {
	return &cobra.Command{
		Use:   "new DIR",
		Short: "Begin a study: a small one that computes, to be changed into yours",
		Long: `New makes a folder with a small study (study.yaml) and its JSON Schema, by which
editors complete and check the file. It never overwrites a file.`,
		Example: "  feederwright new my-study\n  feederwright check my-study",
		Args:    exactly(1, "the folder to make"),
		RunE: func(c *cobra.Command, args []string) error {
			dir := args[0]
			starter, err := examples.Files.ReadFile("first-study/study.yaml")
			if err != nil {
				return err
			}
			schema, err := study.Schema()
			if err != nil {
				return err
			}
			files := []struct {
				name string
				text []byte
			}{{"study.yaml", starter}, {"study.schema.json", schema}}
			for _, f := range files {
				if _, err := os.Lstat(filepath.Join(dir, f.name)); !errors.Is(err, fs.ErrNotExist) {
					if err == nil {
						err = fmt.Errorf("%s exists already; nothing was written", filepath.Join(dir, f.name))
					}
					return err
				}
			}
			if err := os.MkdirAll(dir, 0o755); err != nil {
				return err
			}
			for _, f := range files {
				if err := atomicfile.Write(filepath.Join(dir, f.name), f.text); err != nil {
					return err
				}
			}
			fmt.Fprintf(c.OutOrStdout(), "wrote %s and its schema\nnext: feederwright check %s\n", filepath.Join(dir, "study.yaml"), dir)
			return nil
		},
	}
}

func newSchema() *cobra.Command {
	return &cobra.Command{
		Use:     "schema",
		Short:   "Print the JSON Schema of the study file",
		Example: "  feederwright schema > study.schema.json",
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, args []string) error {
			text, err := study.Schema()
			if err != nil {
				return err
			}
			_, err = c.OutOrStdout().Write(text)
			return err
		},
	}
}
