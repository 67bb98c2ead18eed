package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"feederwright/conductor"
	"feederwright/quantity"
)

func newConductors() *cobra.Command {
	var format string
	c := &cobra.Command{
		Use:   "conductors [NAME]",
		Short: "The library of conductors, every value with its origin and licence",
		Long: `Conductors lists the conductors that a study may take by name, with library:
under conductors. With a name it shows every value of one conductor as printed in
its source, how it is known, and its licence.`,
		Example: "  feederwright conductors\n  feederwright conductors \"ACSR 336.4 kcmil 26/7\"",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if err := checkFormat(format); err != nil {
				return err
			}
			records, err := conductor.Library()
			if err != nil {
				return err
			}
			if len(args) == 1 {
				r, ok := conductor.Find(records, args[0])
				if !ok {
					var names []string
					for _, x := range records {
						names = append(names, x.Name)
					}
					text := fmt.Sprintf("the library has no conductor %q", args[0])
					if near, found := quantity.Nearest(args[0], names); found {
						text += fmt.Sprintf("; did you mean %q?", near)
					} else {
						text += "; feederwright conductors lists them"
					}
					return fmt.Errorf("%s", text)
				}
				records = []conductor.Record{r}
			}
			if format == "json" {
				return conductorsJSON(c.OutOrStdout(), records)
			}
			if len(args) == 1 {
				oneConductor(c.OutOrStdout(), records[0])
				return nil
			}
			listConductors(c.OutOrStdout(), records)
			return nil
		},
	}
	addFormat(c, &format)
	return c
}

// A property is one datum of a conductor with its name.
type property struct {
	name string
	conductor.Datum
}

func properties(r conductor.Record) []property {
	var list []property
	for _, p := range []property{{"diameter", r.Diameter}, {"gmr", r.GMR}, {"area", r.Area}} {
		if p.Given() {
			list = append(list, p)
		}
	}
	for _, d := range r.Resistance {
		list = append(list, property{"resistance", d})
	}
	return list
}

// holdsAt says for which temperature and frequency a value holds.
func holdsAt(d conductor.Datum) string {
	var parts []string
	switch {
	case math.IsNaN(d.From):
	case d.From == d.To:
		parts = append(parts, fmt.Sprintf("%g °C", d.From))
	default:
		parts = append(parts, fmt.Sprintf("%g to %g °C", d.From, d.To))
	}
	switch {
	case math.IsNaN(d.Frequency):
	case d.Frequency == 0:
		parts = append(parts, "d.c.")
	default:
		parts = append(parts, fmt.Sprintf("%g Hz", d.Frequency))
	}
	return strings.Join(parts, ", ")
}

func listConductors(w io.Writer, records []conductor.Record) {
	t := table{head: []string{"conductor", "family", ">diameter", ">gmr", ">resistance", "at"}}
	var works []string
	for _, r := range records {
		row := []string{r.Name, r.Family, r.Diameter.Printed, r.GMR.Printed, "", ""}
		for i, d := range r.Resistance {
			if i == 0 || d.Frequency > 0 && d.From == 50 {
				row[4], row[5] = d.Printed, holdsAt(d)
			}
		}
		t.add(row...)
		for _, p := range properties(r) {
			if text := p.Source + " (" + p.Licence + ")"; !contains(works, text) {
				works = append(works, text)
			}
		}
	}
	_ = t.write(w, "")
	fmt.Fprintf(w, "\n%s. All values of one, with how each is known: feederwright conductors NAME\n\nOrigins and licences:\n", plural(len(records), "conductor"))
	for _, s := range works {
		fmt.Fprint(w, fold(s, "  ", lineWidth))
	}
}

func oneConductor(w io.Writer, r conductor.Record) {
	fmt.Fprintf(w, "%s, %s\n", r.Name, r.Family)
	for _, p := range properties(r) {
		line := fmt.Sprintf("%s %s", p.name, p.Printed)
		if at := holdsAt(p.Datum); at != "" {
			line += " at " + at
		}
		fmt.Fprintf(w, "\n  %s\n", line)
		fmt.Fprint(w, fold("known: "+p.Known, "    ", lineWidth))
		fmt.Fprint(w, fold("origin: "+p.Source, "    ", lineWidth))
		fmt.Fprint(w, fold("licence: "+p.Licence, "    ", lineWidth))
	}
}

// conductorsOutput is the output of conductors --format json. Keys only grow.
type conductorsOutput struct {
	Conductors []recordJSON `json:"conductors"`
}

type recordJSON struct {
	Name       string         `json:"name"`
	Family     string         `json:"family"`
	Properties []propertyJSON `json:"properties"`
}

type propertyJSON struct {
	Name      string   `json:"property"`
	Value     float64  `json:"value"`
	Unit      string   `json:"unit"`
	Printed   string   `json:"printed"`
	From      *float64 `json:"from_degree_c,omitempty"`
	To        *float64 `json:"to_degree_c,omitempty"`
	Frequency *float64 `json:"frequency_hertz,omitempty"`
	Known     string   `json:"known"`
	Source    string   `json:"source"`
	Licence   string   `json:"licence"`
}

func conductorsJSON(w io.Writer, records []conductor.Record) error {
	out := conductorsOutput{Conductors: []recordJSON{}}
	number := func(x float64) *float64 {
		if math.IsNaN(x) {
			return nil
		}
		return &x
	}
	for _, r := range records {
		j := recordJSON{Name: r.Name, Family: r.Family, Properties: []propertyJSON{}}
		for _, p := range properties(r) {
			j.Properties = append(j.Properties, propertyJSON{p.name, p.Value, p.Unit, p.Printed, number(p.From), number(p.To), number(p.Frequency), p.Known, p.Source, p.Licence})
		}
		out.Conductors = append(out.Conductors, j)
	}
	return writeJSON(w, out)
}
