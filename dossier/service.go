package dossier

import (
	"fmt"
	"math"

	"feederwright/flow"
	"feederwright/quantity"
)

// percent is a cell with a fraction in percent, to a tenth.
func percent(x float64) Cell {
	x *= 100
	return Cell{Text: fmt.Sprintf("%.1f", x), Number: &x}
}

// kilowatt is a cell with a power in kW or kvar; below half a watt there is none.
func kilowatt(x float64) Cell {
	if math.Abs(x) < 0.5 {
		x = 0
	}
	return Number(x/1e3, digits)
}

// loadFlow shows voltages, powers and loading in service, condition by
// condition.
func loadFlow(in *Input) ([]Block, error) {
	if !flow.Loaded(in.Doc) {
		return nil, nil
	}
	cases, err := in.Report.Flows()
	if err != nil {
		return nil, err
	}
	t := &Table{Name: "load flow", Caption: "Load flow: extremes of every condition; voltages over nominal",
		Columns: []Column{{Head: "No.", Key: true}, {Group: "Lowest voltage", Head: "%", Align: Right}, {Group: "Lowest voltage", Head: "at"}, {Group: "Highest voltage", Head: "%", Align: Right}, {Group: "Highest voltage", Head: "at"},
			{Group: "Supply", Head: "P", Unit: "kW", Align: Right}, {Group: "Supply", Head: "Q", Unit: "kvar", Align: Right}, {Head: "Losses", Unit: "kW", Align: Right}, {Group: "Highest loading", Head: "%", Align: Right}, {Group: "Highest loading", Head: "of"}}}
	for i, c := range cases {
		if !c.Converged {
			if len(t.Notes) == 0 {
				t.Notes = []string{"No solution: the network cannot carry the loads of that condition; the findings say where, and up to which part of the loads it can."}
			}
			row := []Cell{Words(tag(i)), Words("no solution")}
			for len(row) < len(t.Columns) {
				row = append(row, Cell{})
			}
			t.Rows = append(t.Rows, Row{Cells: row})
			continue
		}
		low, high, lowAt, highAt := math.Inf(1), math.Inf(-1), "", ""
		for _, b := range c.Buses() {
			for _, p := range (b.Phases & quantity.PhasesABC).Conductors() {
				// Lower or higher by more than rounding, so that equal phases keep the first.
				if u := b.Judged[p]; u < low-1e-9 {
					low, lowAt = u, b.Name+" "+c.PhaseName(p)
				}
				if u := b.Judged[p]; u > high+1e-9 {
					high, highAt = u, b.Name+" "+c.PhaseName(p)
				}
			}
		}
		load, of := 0.0, ""
		for _, b := range c.Branches() {
			if b.Given && b.Loading > load {
				load, of = b.Loading, b.Name
			}
		}
		for _, d := range c.Devices() {
			if d.Given && d.Loading > load {
				load, of = d.Loading, d.Name
			}
		}
		balance := c.Balance()
		row := []Cell{Words(tag(i))}
		if lowAt == "" {
			row = append(row, Absent, Absent, Absent, Absent)
		} else {
			row = append(row, percent(low), Words(lowAt), percent(high), Words(highAt))
		}
		row = append(row, kilowatt(real(balance.Sources)), kilowatt(imag(balance.Sources)), kilowatt(real(balance.Losses)))
		if of == "" {
			row = append(row, Absent, Absent)
		} else {
			row = append(row, percent(load), Words(of))
		}
		t.Rows = append(t.Rows, Row{Cells: row})
	}
	return []Block{Para{Text: Rich{}.Plain("The state of service with the loads of the study, machines, inverters and controlled taps. Voltages are to the neutral, or between phases where nothing earths the part. ").
		Code("feederwright flow STUDY --condition NAME").Plain(" shows every bus and branch of a condition.")}, t}, nil
}
