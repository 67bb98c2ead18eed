package dossier

import (
	"fmt"
	"math"

	"feederwright/duty"
	"feederwright/working"
)

// breakingAfter is the time for which the symmetrical breaking current of IEC
// 60909-0 is tabulated, s; devices are judged at their own.
const breakingAfter = 0.05

// kilo is a cell with a current in kA; below a milliampere there is none.
func kilo(x float64) Cell {
	if x < 1e-3 {
		x = 0
	}
	return Number(x/1e3, digits)
}

// share is a cell with a part in percent.
func share(x float64) Cell {
	x *= 100
	return Cell{Text: fmt.Sprintf("%.0f", x), Number: &x}
}

// duties shows the currents by which plant is rated, and the ratings.
func duties(in *Input) ([]Block, error) {
	cases, defaults, err := in.Report.DutyCases(false)
	if err != nil {
		return nil, err
	}
	places, err := in.Report.PlaceDuties(cases, in.Doc.Buses.Names())
	if err != nil {
		return nil, err
	}
	if len(places) == 0 {
		return nil, nil
	}
	devices, err := in.Report.Duties(cases)
	if err != nil {
		return nil, err
	}
	m, _ := duty.MethodOf(in.Doc)
	by := "IEEE C37.010, C37.13 and 551"
	thermal := fmt.Sprintf("Ith %s s", working.Number(m.FaultLasts, 2))
	t := &Table{Name: "duties", Columns: []Column{{Head: "Place", Key: true}, {Head: "Fault", Key: true},
		{Head: "First cycle", Unit: "kA", Align: Right}, {Head: "X/R", Align: Right}, {Head: "Peak", Unit: "kA", Align: Right}, {Head: thermal, Unit: "kA", Align: Right},
		{Head: "Interrupting", Unit: "kA", Align: Right}, {Head: "X/R", Align: Right}, {Head: "in"}, {Head: "Taps"}}}
	if m.Practice == duty.IEC {
		by = fmt.Sprintf("IEC 60909-0:%d", m.Edition)
		t.Columns = []Column{{Head: "Place", Key: true}, {Head: "Fault", Key: true}, {Head: "c", Align: Right}, {Head: "I″k", Unit: "kA", Align: Right}, {Head: "X/R", Align: Right}, {Head: "κ", Align: Right},
			{Head: "ip", Unit: "kA", Align: Right}, {Head: fmt.Sprintf("Ib %s ms", working.Number(breakingAfter*1e3, 2)), Unit: "kA", Align: Right}, {Head: "Ik", Unit: "kA", Align: Right}, {Head: thermal, Unit: "kA", Align: Right}, {Head: "in"}, {Head: "Taps"}}
	}
	t.Caption = "Largest duties at every place, by " + by
	unproven := map[string]bool{}
	last := ""
	for _, p := range places {
		name := p.Place
		if name == last {
			name = ""
		}
		last = p.Place
		row := []Cell{Words(name), Words(p.Fault)}
		x := p.Currents
		if x == nil {
			unproven[p.Unproven] = true
			row = append(row, Words("?"))
			for len(row) < len(t.Columns) {
				row = append(row, Cell{})
			}
			t.Rows = append(t.Rows, Row{Cells: row})
			continue
		}
		if m.Practice == duty.IEC {
			c := x.Factor
			row = append(row, Cell{Text: fmt.Sprintf("%.2f", c), Number: &c}, kilo(x.Initial), ratio(x.XR), Number(x.Kappa, 4), kilo(x.Peak), kilo(x.Breaking(breakingAfter)), kilo(x.Steady), kilo(x.Thermal(m.FaultLasts)))
		} else {
			row = append(row, kilo(x.Initial), ratio(x.XR), kilo(x.Peak), kilo(x.Thermal(m.FaultLasts)), kilo(x.Later), ratio(x.LaterXR))
		}
		t.Rows = append(t.Rows, Row{Cells: append(row, Words(in.shortTag(p.Condition)), Words(tapsText(p.Taps)))})
	}
	for _, why := range sorted(unproven) {
		t.Notes = append(t.Notes, "? the "+why+" is not given.")
	}
	blocks := []Block{Para{Text: T("Currents by which plant is rated, by " + by + ": the largest over the conditions and the ends of on-load taps. They are not what relays see, which the other chapters show.")}}
	if len(defaults) > 0 {
		blocks = append(blocks, List{riches(defaults)})
	}
	if len(devices) > 0 {
		d := &Table{Name: "device duties", Caption: "The worst duty of each device and conductor, and its rating; of making, the peak",
			Columns: []Column{{Head: "Device", Key: true}, {Head: "Duty"}, {Head: "Current", Unit: "kA", Align: Right}, {Head: "Rating", Unit: "kA", Align: Right}, {Head: "Of rating", Unit: "%", Align: Right}, {Head: "Verdict"}, {Head: "Fault"}, {Head: "at"}, {Head: "in"}}}
		for _, x := range devices {
			f := x.Finding(m)
			rating, part := Words("not given"), Absent
			if x.Rating > 0 && !math.IsInf(x.Part(), 0) {
				rating, part = kilo(x.Rating), share(x.Part())
			}
			d.Rows = append(d.Rows, Row{Cells: []Cell{Words(x.Kind + " " + x.Name), Words(x.Rule), kilo(x.Value), rating, part,
				{Text: verdictMark(f.Verdict), Strong: f.Verdict.String() != "holds"}, Words(x.Fault), Words(x.Place), Words(in.shortTag(x.Condition))}})
		}
		blocks = append(blocks, d)
	}
	return append(blocks, t), nil
}

// shortTag is the tag of a condition by its name.
func (in *Input) shortTag(name string) string {
	for i, s := range in.States {
		if s.Name == name {
			return tag(i)
		}
	}
	return name
}

func tapsText(t duty.TapState) string {
	if t == duty.TapsAsGiven {
		return "as given"
	}
	return string(t)
}
