package main

import (
	"fmt"
	"io"
	"math/cmplx"
	"strings"

	"github.com/spf13/cobra"

	"feederwright/answer"
	"feederwright/fault"
	"feederwright/network"
	"feederwright/quantity"
	"feederwright/study"
	"feederwright/working"
)

func newLines() *cobra.Command {
	var format, typ, per string
	var hot, work bool
	c := &cobra.Command{
		Use:   "lines STUDY",
		Short: "Constants of the line types: matrices, sequence values, what they are from",
		Long: `Lines prints for each line type of a study its series impedance and charging
matrices per length, its sequence values, where the data of its conductors are
from, and what was taken where the study says nothing. Types given by how the
line is built are worked out; --working shows the steps.

STUDY is a study file, or a folder with a study.yaml.`,
		Example: "  feederwright lines my-study\n  feederwright lines my-study --type OH --working --per mi",
		Args:    exactly(1, "a study: a study file, or a folder with a study.yaml"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := checkFormat(format); err != nil {
				return err
			}
			if per != "km" && per != "mi" {
				return fmt.Errorf("--per %s: want km or mi", per)
			}
			doc, _, _, err := load(args[0], c.ErrOrStderr())
			if err != nil {
				return err
			}
			types, err := chooseTypes(doc, typ)
			if err != nil {
				return err
			}
			if format == "json" {
				return linesJSON(c.OutOrStdout(), doc, types, hot, work)
			}
			return linesText(c.OutOrStdout(), doc, types, per, hot, work)
		},
	}
	addFormat(c, &format)
	c.Flags().StringVar(&typ, "type", "", "one line type only")
	c.Flags().StringVar(&per, "per", "km", "length that values of the text output are for: km or mi")
	c.Flags().BoolVar(&hot, "hot", false, "with conductors at their highest temperature")
	c.Flags().BoolVar(&work, "working", false, "show how the matrices come about")
	return c
}

func chooseTypes(doc *study.Document, name string) ([]*study.Entry[study.LineType], error) {
	var types []*study.Entry[study.LineType]
	for i := range doc.LineTypes.Entries {
		if e := &doc.LineTypes.Entries[i]; name == "" || e.Name == name {
			types = append(types, e)
		}
	}
	if name != "" && types == nil {
		text := fmt.Sprintf("no line type is called %q", name)
		if near, ok := quantity.Nearest(name, doc.LineTypes.Names()); ok {
			text += fmt.Sprintf("; did you mean %q?", near)
		} else if len(doc.LineTypes.Entries) > 0 {
			text += "; types are " + strings.Join(doc.LineTypes.Names(), ", ")
		}
		return nil, fmt.Errorf("%s", text)
	}
	return types, nil
}

// kindOfType says what a type is given by.
func kindOfType(t *study.LineType) string {
	switch {
	case t.PoleTop.Given:
		return "overhead"
	case t.Cable.Given:
		return "cable"
	}
	return "impedances"
}

// earthText says how the return through the earth was figured.
func earthText(d *network.TypeData) string {
	rho := 0.0
	if d.Built.Overhead != nil {
		rho = d.Built.Overhead.Earth.Resistivity
	} else {
		rho = d.Built.Cables.Earth.Resistivity
	}
	return fmt.Sprintf("%s, earth %s", d.Built.Method, quantity.Resistivity(rho))
}

const impedanceDigits, susceptanceDigits = 5, 5

func linesText(w io.Writer, doc *study.Document, types []*study.Entry[study.LineType], per string, hot, work bool) error {
	length := map[string]float64{"km": 1, "mi": 1.609344}[per]
	fmt.Fprintln(w, doc.Title.V)
	if len(types) == 0 {
		fmt.Fprintln(w, "\nThe study has no line types.")
	}
	var taken []string
	for _, t := range types {
		d, err := network.TypeOf(doc, t, hot)
		if err != nil {
			return err
		}
		title := fmt.Sprintf("line type %s: ", t.Name)
		switch kindOfType(&t.Item) {
		case "overhead":
			title += fmt.Sprintf("overhead, pole top %s; %s; %s", t.Item.PoleTop.V, earthText(&d), quantity.Frequency(doc.Frequency.V))
		case "cable":
			title += fmt.Sprintf("cable %s; %s; %s", t.Item.Cable.V, earthText(&d), quantity.Frequency(doc.Frequency.V))
		default:
			title += "impedances as given"
		}
		if d.Hot {
			title += "; conductors hot"
		}
		fmt.Fprintf(w, "\n%s", fold(title, "", lineWidth))
		if t.Origin.Source != "" {
			fmt.Fprint(w, fold("source: "+t.Origin.Source, "  ", lineWidth))
		}
		var names []string
		for _, c := range d.Phases.Conductors() {
			names = append(names, fault.PhaseName(doc, c))
		}
		n := len(names)
		matrix := func(head string, cell func(k int) string) {
			fmt.Fprintf(w, "  %s\n", head)
			m := table{head: []string{""}}
			for _, name := range names {
				m.head = append(m.head, ">"+name)
			}
			for i := range n {
				row := []string{names[i]}
				for j := range n {
					row = append(row, cell(i*n+j))
				}
				m.add(row...)
			}
			_ = m.write(w, "    ")
		}
		matrix("series impedance, ohm/"+per, func(k int) string {
			return working.Complex(d.Z[k]*complex(length, 0), impedanceDigits)
		})
		if d.Y != nil {
			matrix("charging susceptance, uS/"+per, func(k int) string {
				return working.Number(imag(d.Y[k])*1e6*length, susceptanceDigits)
			})
		} else {
			fmt.Fprintln(w, "  no charging given")
		}
		if d.Transposed {
			fmt.Fprintf(w, "  z1 %s, z0 %s ohm/%s", working.Complex(d.Z1*complex(length, 0), impedanceDigits), working.Complex(d.Z0*complex(length, 0), impedanceDigits), per)
			if d.Y != nil {
				fmt.Fprintf(w, "; b1 %s, b0 %s uS/%s", working.Number(d.B1*1e6*length, susceptanceDigits), working.Number(d.B0*1e6*length, susceptanceDigits), per)
			}
			fmt.Fprintln(w)
			if share := d.Departure / cmplx.Abs(d.Z1); share > 1e-9 {
				fmt.Fprintf(w, "  as if transposed; entries differ from their means by up to %.1f %% of z1\n", 100*share)
			}
		}
		if d.Earthing != 0 {
			fmt.Fprintf(w, "  neutral earthing %s: %s S/%s\n", t.Item.NeutralEarthing.V, working.Number(d.Earthing*length, 4), per)
		}
		if d.Built != nil {
			m := table{head: []string{"conductor", "", ">r, ohm/" + per}}
			var notes []string
			for _, x := range d.Built.Metal {
				m.add(roleName(doc, x.Role), x.Conductor, working.Number(x.Resistance*1e3*length, impedanceDigits))
				note := x.Conductor
				if note == "" {
					note = "screen"
				}
				if note += ": " + x.How; x.Source != "" {
					note += "; " + x.Source
				}
				if !contains(notes, note) {
					notes = append(notes, note)
				}
			}
			_ = m.write(w, "    ")
			for _, note := range notes {
				fmt.Fprint(w, fold(note, "    ", lineWidth))
			}
			if work {
				steps, err := d.Built.Working()
				if err != nil {
					return err
				}
				fmt.Fprintln(w, "  working, per km")
				fmt.Fprint(w, working.Text(steps, lineWidth))
			}
		}
		for _, x := range d.Taken {
			if !contains(taken, x) {
				taken = append(taken, x)
			}
		}
	}
	writeAssumptions(w, doc, taken)
	return nil
}

// roleName calls the phase of a role, as A or A screen, what the study calls it.
func roleName(doc *study.Document, role string) string {
	phase, rest, _ := strings.Cut(role, " ")
	if i := strings.Index("ABC", phase); i >= 0 && len(phase) == 1 {
		return strings.TrimSpace(fault.PhaseName(doc, i) + " " + rest)
	}
	return role
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// linesOutput is the output of lines --format json. Keys only grow.
type linesOutput struct {
	Study       string              `json:"study"`
	Frequency   float64             `json:"frequency_hertz"`
	Types       []typeJSON          `json:"types"`
	Assumptions []answer.Assumption `json:"assumptions"`
}

type typeJSON struct {
	Name        string             `json:"name"`
	Given       string             `json:"given_as"`
	Conductors  string             `json:"conductors"`
	Hot         bool               `json:"hot"`
	Method      string             `json:"earth_return,omitempty"`
	Resistivity float64            `json:"earth_resistivity_ohm_metre,omitempty"`
	Z           [][]answer.Complex `json:"impedance_ohm_per_km"`
	B           [][]float64        `json:"susceptance_siemens_per_km,omitempty"`
	Z1          *answer.Complex    `json:"z1_ohm_per_km,omitempty"`
	Z0          *answer.Complex    `json:"z0_ohm_per_km,omitempty"`
	B1          float64            `json:"b1_siemens_per_km,omitempty"`
	B0          float64            `json:"b0_siemens_per_km,omitempty"`
	Departure   float64            `json:"departure_ohm_per_km,omitempty"`
	Earthing    float64            `json:"neutral_earthing_siemens_per_km,omitempty"`
	Metal       []metalJSON        `json:"metal,omitempty"`
	Working     []working.Step     `json:"working,omitempty"`
	Source      string             `json:"source,omitempty"`
	Defaults    []string           `json:"defaults"`
}

type metalJSON struct {
	Role       string  `json:"role"`
	Conductor  string  `json:"conductor,omitempty"`
	Resistance float64 `json:"resistance_ohm_per_km"`
	How        string  `json:"how"`
	Source     string  `json:"source,omitempty"`
}

func linesJSON(w io.Writer, doc *study.Document, types []*study.Entry[study.LineType], hot, work bool) error {
	out := linesOutput{Study: doc.Title.V, Frequency: float64(doc.Frequency.V), Types: []typeJSON{}, Assumptions: answer.AssumptionsOf(doc)}
	for _, t := range types {
		d, err := network.TypeOf(doc, t, hot)
		if err != nil {
			return err
		}
		j := typeJSON{Name: t.Name, Given: kindOfType(&t.Item), Conductors: d.Phases.Letters(), Hot: d.Hot, Earthing: d.Earthing, Source: t.Origin.Source, Defaults: append([]string{}, d.Taken...)}
		n := d.Phases.Count()
		for i := range n {
			var z []answer.Complex
			var b []float64
			for k := range n {
				z = append(z, *answer.ToComplex(d.Z[i*n+k]))
				if d.Y != nil {
					b = append(b, imag(d.Y[i*n+k]))
				}
			}
			j.Z = append(j.Z, z)
			if d.Y != nil {
				j.B = append(j.B, b)
			}
		}
		if d.Transposed {
			j.Z1, j.Z0, j.B1, j.B0, j.Departure = answer.ToComplex(d.Z1), answer.ToComplex(d.Z0), d.B1, d.B0, d.Departure
		}
		if d.Built != nil {
			j.Method = d.Built.Method.String()
			if d.Built.Overhead != nil {
				j.Resistivity = d.Built.Overhead.Earth.Resistivity
			} else {
				j.Resistivity = d.Built.Cables.Earth.Resistivity
			}
			for _, m := range d.Built.Metal {
				j.Metal = append(j.Metal, metalJSON{m.Role, m.Conductor, m.Resistance * 1e3, m.How, m.Source})
			}
			if work {
				if j.Working, err = d.Built.Working(); err != nil {
					return err
				}
			}
		}
		out.Types = append(out.Types, j)
	}
	return writeJSON(w, out)
}
