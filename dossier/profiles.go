package dossier

import (
	"fmt"
	"slices"
	"strings"

	"feederwright/flow"
	"feederwright/profile"
	"feederwright/strip"
)

// mostProfiles is how many ends are shown; the others are named.
const mostProfiles = 6

// profiles shows the way to every end: fault currents, X/R, voltage and load along it.
func profiles(in *Input) ([]Block, error) {
	ends := strip.Ends(in.Doc)
	flows, err := in.Report.Flows()
	if err != nil {
		return nil, err
	}
	type found struct {
		*profile.Profile
		length float64
	}
	var list []found
	for _, end := range ends {
		p, err := profile.Of(in.Report, flows, profile.Options{To: end, Between: 4})
		if err != nil { // no infeed reaches it in any condition: the findings say so
			continue
		}
		list = append(list, found{p, p.Points[len(p.Points)-1].Distance})
	}
	if len(list) == 0 {
		return nil, nil
	}
	var rest []string
	if len(list) > mostProfiles {
		byLength := slices.Clone(list)
		slices.SortStableFunc(byLength, func(a, b found) int {
			switch {
			case a.length > b.length:
				return -1
			case a.length < b.length:
				return 1
			}
			return 0
		})
		keep := map[string]bool{}
		for _, f := range byLength[:mostProfiles] {
			keep[f.To] = true
		}
		list = slices.DeleteFunc(list, func(f found) bool {
			if !keep[f.To] {
				rest = append(rest, f.To)
			}
			return !keep[f.To]
		})
	}
	limits := flow.LimitsOf(in.Doc)
	blocks := []Block{Para{Text: Rich{}.Plain("Each figure follows one path from the supply to an end of the network. Thick lines are the most and thin lines the least over the conditions; fault currents are bolted and symmetrical. ").
		Code("feederwright profile STUDY --to BUS").Plain(" shows any other path, and the numbers.")}}
	if len(rest) > 0 {
		blocks = append(blocks, Para{Small: true, Text: T(fmt.Sprintf("Shown are the %d longest paths. Not shown: those to %s.", mostProfiles, strings.Join(rest, ", ")))})
	}
	o := strip.Options{Width: min(A4.width, Letter.width) - 2*sideEdge, Height: 150}
	o.Unit, o.Metre = in.Doc.LengthUnit()
	if flow.Loaded(in.Doc) {
		o.Low, o.High = limits.VoltageLow, limits.VoltageHigh
	}
	for _, f := range list {
		page, err := strip.Draw(f.Profile, o)
		if err != nil {
			return nil, err
		}
		page.Title = "Feeder strip from " + f.From + " to " + f.To
		blocks = append(blocks, Figure{Drawing: sheet{page}, Caption: fmt.Sprintf("From %s to %s.", f.From, f.To)})
		blocks = append(blocks, in.profileTable(f.Profile, o))
	}
	return blocks, nil
}

// profileTable has the numbers of a profile at its buses.
func (in *Input) profileTable(p *profile.Profile, o strip.Options) *Table {
	t := &Table{Name: "to " + p.To, Caption: fmt.Sprintf("From %s to %s: fault currents, load and voltage at the buses", p.From, p.To),
		Columns: []Column{{Head: "Place", Key: true}, {Head: "Distance", Unit: o.Unit, Align: Right}}}
	kinds := []int{0, 1, 3}
	for _, k := range kinds {
		t.Columns = append(t.Columns, Column{Group: p.Kinds[k] + ", A", Head: "least", Align: Right}, Column{Group: p.Kinds[k] + ", A", Head: "most", Align: Right})
	}
	loaded := flow.Loaded(in.Doc)
	t.Columns = append(t.Columns, Column{Head: "X/R", Align: Right})
	if loaded {
		t.Columns = append(t.Columns, Column{Group: "Voltage, %", Head: "least", Align: Right}, Column{Group: "Voltage, %", Head: "most", Align: Right}, Column{Head: "Load", Unit: "A", Align: Right})
	}
	missing := map[string]bool{}
	for i := range p.Points {
		pt := &p.Points[i]
		if !pt.Bus {
			continue
		}
		length := pt.Distance / o.Metre
		row := []Cell{Words(pt.Place), {Text: fmt.Sprintf("%.2f", length), Number: &length}}
		for _, k := range kinds {
			switch b := pt.Faults[k]; {
			case b.Known:
				row = append(row, Number(b.Least, digits), Number(b.Most, digits))
			case b.Unproven != "":
				missing[b.Unproven] = true
				row = append(row, Words("?"), Words("?"))
			default:
				row = append(row, Absent, Absent)
			}
		}
		if pt.XR.Known {
			row = append(row, ratio(pt.XR.V))
		} else {
			row = append(row, Absent)
		}
		if loaded {
			if pt.Voltage.Known {
				row = append(row, percent(pt.Voltage.Least), percent(pt.Voltage.Most))
			} else {
				row = append(row, Absent, Absent)
			}
			if pt.Load.Known {
				row = append(row, Number(pt.Load.Most, digits))
			} else {
				row = append(row, Absent)
			}
		}
		t.Rows = append(t.Rows, Row{Cells: row})
	}
	for _, why := range sorted(missing) {
		t.Notes = append(t.Notes, "? the "+why+" is not given.")
	}
	return t
}
