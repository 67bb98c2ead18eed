package dossier

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/quantity"
	"feederwright/working"
)

// digits of currents in tables, as in the other outputs.
const digits = 4

func ratio(x float64) Cell {
	if math.IsInf(x, 0) {
		return Words("no R")
	}
	return Number(x, 3)
}

// xrOf is X/R of a fault that draws a current.
func xrOf(current, xr float64) Cell {
	if current == 0 {
		return Absent
	}
	return ratio(xr)
}

func ohms(z complex128) string { return working.Complex(z, 5) }

func supply(in *Input) ([]Block, error) {
	t := &Table{Name: "supply", Caption: "Infeeds: levels as stated by their source, and the impedances that follow, at the infeed's bus",
		Columns: []Column{{Head: "Infeed, level", Key: true}, {Head: "Three-phase"}, {Head: "X/R", Align: Right}, {Head: "Line to earth"}, {Head: "Z1", Unit: "Ω", Align: Right}, {Head: "Z2", Unit: "Ω", Align: Right}, {Head: "Z0", Unit: "Ω", Align: Right}, {Head: "Source"}}}
	for i := range in.Doc.Supply.Entries {
		e := &in.Doc.Supply.Entries[i]
		bus := in.Doc.Buses.Find(string(e.Item.At.V))
		if bus == nil {
			continue
		}
		head := fmt.Sprintf("%s at %s, %s", e.Name, e.Item.At.V, bus.Item.Voltage.Text)
		if e.Item.Boundary.V != "" {
			head += ": " + e.Item.Boundary.V
		}
		t.Rows = append(t.Rows, Row{Head: true, Cells: []Cell{Words(head)}})
		for _, word := range []string{"maximum", "minimum", "future"} {
			level := e.Item.Level(word)
			if level == nil {
				if word != "future" {
					t.Rows = append(t.Rows, Row{Cells: []Cell{Words(word), Words("not given"), Absent, Absent, Absent, Absent, Absent, Absent}})
				}
				continue
			}
			z, err := network.LevelOf(level, float64(bus.Item.Voltage.V))
			if err != nil {
				return nil, err
			}
			row := []Cell{Words(word), Words(orDash(level.ThreePhase.Text)), Words(orDash(level.XR.Text)), Words(orDash(level.LineToGround.Text)), Words(ohms(z.Z1)), Words(ohms(z.Z2))}
			switch {
			case z.Open:
				row = append(row, Words("open"))
			case z.Unknown:
				row = append(row, Words("not known"))
			default:
				row = append(row, Words(ohms(z.Z0)))
			}
			t.Rows = append(t.Rows, Row{Cells: append(row, Words(orDash(level.Source.V)))})
		}
	}
	if len(t.Rows) == 0 {
		return nil, nil
	}
	t.Notes = append(t.Notes, "Z0 “not known”: no line-to-earth level with its own X/R is given. Earth faults that depend on it are unproven.")
	return []Block{t}, nil
}

func typeWords(t fault.Type) string { return fmt.Sprintf("%s %s", t, t.Words()) }

func faultCurrents(in *Input) ([]Block, error) {
	s := in.sweep
	var kinds []string
	for _, t := range s.types {
		kinds = append(kinds, typeWords(t))
	}
	blocks := []Block{Para{Text: T(fmt.Sprintf("Bolted faults, symmetrical r.m.s. amperes in the phase with the largest current. Kinds: %s. Conditions are named by their numbers. A dash: the place has no such phases, or no source. A question mark: unproven, a datum is missing. Full tables stand in the annex.", strings.Join(kinds, "; ")))}}
	most := &Table{Name: "largest currents", Caption: "Largest fault currents over all conditions"}
	least := &Table{Name: "smallest currents", Caption: "Smallest fault currents over the conditions in which the place has a source"}
	most.Columns = []Column{{Head: "Place", Key: true}}
	least.Columns = []Column{{Head: "Place", Key: true}}
	for _, t := range s.types {
		g := t.String()
		most.Columns = append(most.Columns, Column{Group: g, Head: "I", Unit: "A", Align: Right})
		if withXR(t) {
			most.Columns = append(most.Columns, Column{Group: g, Head: "X/R", Align: Right})
		}
		most.Columns = append(most.Columns, Column{Group: g, Head: "in", Align: Left})
		least.Columns = append(least.Columns, Column{Group: g, Head: "I", Unit: "A", Align: Right}, Column{Group: g, Head: "in", Align: Left})
	}
	unproven := map[string]bool{}
	nothing := false
	for p, name := range s.places {
		big, small := []Cell{Words(name)}, []Cell{Words(name)}
		for n, t := range s.types {
			x, y, why := s.extremes(p, n)
			if !x.exists {
				gap := Absent
				if why != "" {
					unproven[why] = true
					gap = Words("?")
				}
				big, small = append(big, gap), append(small, gap)
				if withXR(t) {
					big = append(big, Cell{})
				}
				big, small = append(big, Cell{}), append(small, Cell{})
				continue
			}
			big = append(big, Number(x.current, digits))
			if withXR(t) {
				big = append(big, xrOf(x.current, x.xr))
			}
			nothing = nothing || x.current == 0 || y.current == 0
			big = append(big, Words(tag(x.condition)))
			small = append(small, Number(y.current, digits), Words(tag(y.condition)))
		}
		most.Rows = append(most.Rows, Row{Cells: big})
		least.Rows = append(least.Rows, Row{Cells: small})
	}
	for _, why := range sorted(unproven) {
		most.Notes = append(most.Notes, "? the "+why+" is not given.")
	}
	if nothing {
		most.Notes = append(most.Notes, "0 for a fault to earth: that part has no path to earth and no capacitance is given; see the findings.")
	}
	least.Notes = most.Notes
	return append(blocks, most, least), nil
}

// withXR tells for which types tables show X/R.
func withXR(t fault.Type) bool { return t == fault.ThreePhase || t == fault.LineEarth }

func sorted(set map[string]bool) []string {
	var list []string
	for k := range set {
		list = append(list, k)
	}
	slices.Sort(list)
	return list
}

func byCondition(in *Input) ([]Block, error) {
	s := in.sweep
	blocks := []Block{Para{Text: T("Bolted faults, symmetrical r.m.s. amperes in the phase with the largest current; driving-point impedances of places with three phases. Signs as in the chapter on fault currents.")}}
	all := &Table{Name: "by condition", Caption: "Fault currents by condition", SheetOnly: true,
		Columns: []Column{{Head: "Condition", Key: true}, {Head: "Name", Key: true}}}
	for i, state := range in.States {
		t := &Table{Caption: fmt.Sprintf("%s: %s", tag(i), state.Name), Columns: []Column{{Head: "Place", Key: true},
			{Group: "Z1", Head: "R", Unit: "Ω", Align: Right}, {Group: "Z1", Head: "X", Unit: "Ω", Align: Right}, {Group: "Z0", Head: "R", Unit: "Ω", Align: Right}, {Group: "Z0", Head: "X", Unit: "Ω", Align: Right}}}
		for _, typ := range s.types {
			t.Columns = append(t.Columns, Column{Group: "Current", Head: typ.String(), Unit: "A", Align: Right})
		}
		for _, typ := range s.types {
			if withXR(typ) {
				t.Columns = append(t.Columns, Column{Group: "X/R", Head: typ.String(), Align: Right})
			}
		}
		for p, name := range s.places {
			row := []Cell{Words(name)}
			sp := &s.at[i][p]
			if !sp.source {
				row = append(row, Words("no source"))
				for len(row) < len(t.Columns) {
					row = append(row, Cell{})
				}
				t.Rows = append(t.Rows, Row{Cells: row})
				continue
			}
			pair := func(ok bool, z complex128) {
				if !ok {
					row = append(row, Absent, Absent)
					return
				}
				row = append(row, Number(real(z), digits), Number(imag(z), digits))
			}
			pair(sp.three, sp.z1)
			pair(sp.zero, sp.z0)
			for n := range s.types {
				row = append(row, amountCell(sp.of[n], sp.of[n].current))
			}
			for n, typ := range s.types {
				if withXR(typ) {
					if sp.of[n].exists {
						row = append(row, xrOf(sp.of[n].current, sp.of[n].xr))
					} else {
						row = append(row, amountCell(sp.of[n], 0))
					}
				}
			}
			t.Rows = append(t.Rows, Row{Cells: row})
		}
		if i == 0 {
			all.Columns = append(all.Columns, t.Columns...)
		}
		for _, r := range t.Rows {
			all.Rows = append(all.Rows, Row{Cells: append([]Cell{Words(tag(i)), Words(state.Name)}, r.Cells...)})
		}
		blocks = append(blocks, t)
	}
	return append(blocks, all), nil
}

func amountCell(a amount, x float64) Cell {
	switch {
	case a.unproven != "":
		return Words("?")
	case !a.exists:
		return Absent
	}
	return Number(x, digits)
}

func (in *Input) kindName(k fault.Kind) string { return fault.KindName(in.Doc, k) }

// sumName writes the conductors of a secondary circuit.
func (in *Input) sumName(s quantity.SignedSum) string {
	plus, minus := "", ""
	for c, k := range s.Coefficient {
		switch {
		case k < 0:
			minus += "−" + fault.PhaseName(in.Doc, c)
		case k > 0 && plus != "":
			plus += "+" + fault.PhaseName(in.Doc, c)
		case k > 0:
			plus += fault.PhaseName(in.Doc, c)
		}
	}
	return plus + minus
}
