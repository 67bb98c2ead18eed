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
	"feederwright/tables"
)

func newNew() *cobra.Command {
	var format, from string
	var asTables bool
	var head tables.Head
	c := &cobra.Command{
		Use:   "new DIR",
		Short: "Begin a study: a small one that computes, or one from tables of a network",
		Long: `New makes a folder with a small study (study.yaml) and its JSON Schema, by which
editors complete and check the file. It never overwrites a file.

With --from it makes the study of tables: a folder of CSV files, as a
spreadsheet, an asset register or a cable schedule gives them. Mistakes are
pointed at by row and column, all in one run, and then nothing is written.
With --tables it writes such tables: templates that show what stands in
them, or with --from those of a study.`,
		Example: `  feederwright new my-study
  feederwright check my-study

  feederwright new --tables my-tables
  feederwright new works --from my-tables
  feederwright new --tables works-tables --from works`,
		Args: exactly(1, "the folder to make"),
		RunE: func(c *cobra.Command, args []string) error {
			dir := args[0]
			if err := checkFormat(format); err != nil {
				return err
			}
			if asTables || from == "" {
				for _, f := range []string{"title", "frequency"} {
					if c.Flags().Changed(f) {
						return fmt.Errorf("--%s is for a study that is made from tables", f)
					}
				}
			}
			switch {
			case asTables && from != "":
				return newTablesFrom(dir, from, format, c.OutOrStdout(), c.ErrOrStderr())
			case asTables:
				return newTables(dir, format, c.OutOrStdout())
			case from != "":
				return newFromTables(c, dir, from, format, head)
			}
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
			if format == "json" {
				out := emptyNewJSON()
				out.Folder, out.Files = dir, []string{files[0].name, files[1].name}
				return writeJSON(c.OutOrStdout(), out)
			}
			fmt.Fprintf(c.OutOrStdout(), "wrote %s and its schema\nnext: feederwright check %s\n", filepath.Join(dir, "study.yaml"), dir)
			return nil
		},
	}
	addFormat(c, &format)
	c.Flags().BoolVar(&asTables, "tables", false, "write tables instead of a study")
	c.Flags().StringVar(&from, "from", "", "`folder` of the tables to read; with --tables, the study")
	c.Flags().StringVar(&head.Title, "title", "", "`title` of the study, where the tables have none (default: its folder)")
	c.Flags().StringVar(&head.Frequency, "frequency", "", "`frequency` of the study, where the tables have none: '50 Hz'")
	return c
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
