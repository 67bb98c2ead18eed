package dossier

import (
	"fmt"
	"strings"

	"feederwright/network"
	"feederwright/study"
	"feederwright/working"
)

func devices(in *Input) ([]Block, error) {
	doc := in.Doc
	var blocks []Block
	t := &Table{Name: "devices", Caption: "Switching devices, with ratings as the study states them",
		Columns: []Column{{Head: "Device", Key: true}, {Head: "Stands"}, {Head: "Normally"}, {Head: "Rated"}, {Head: "Continuous"}, {Head: "Interrupts"}, {Head: "Makes"}, {Head: "Opens in"}, {Head: "Link"}}}
	group := ""
	for _, d := range doc.Devices() {
		stands := ""
		if d.In.Given {
			stands = fmt.Sprintf("in %s near %s", d.In.V, d.Near.V)
		} else {
			stands = fmt.Sprintf("%s to %s", d.From.V, d.To.V)
		}
		normally := d.Normally.V
		if normally == "" {
			normally = "closed"
		}
		row := []Cell{Words(d.Name), Words(stands), Words(normally)}
		var rest [6]string // rated, continuous, interrupts, makes, opens, link
		switch d.Kind {
		case "breaker", "recloser":
			e := doc.Breakers.Find(d.Name)
			if d.Kind == "recloser" {
				e = doc.Reclosers.Find(d.Name)
			}
			b := &e.Item
			rest = [6]string{b.Rated.Text, b.Continuous.Text, b.Interrupts.Text, b.Makes.Text, b.Opens.Text, ""}
		case "fuse":
			f := &doc.Fuses.Find(d.Name).Item
			rest = [6]string{f.Rated.Text, f.Continuous.Text, f.Interrupts.Text, "", "", f.Link.Text}
		}
		for _, text := range rest {
			row = append(row, Words(orDash(text)))
		}
		if d.Kind != group {
			group = d.Kind
		}
		row[0].Text = d.Kind + " " + d.Name
		t.Rows = append(t.Rows, Row{Cells: row})
	}
	if len(t.Rows) > 0 {
		blocks = append(blocks, t)
	}

	ct := &Table{Name: "current transformers", Caption: "Current transformers and sensors",
		Columns: []Column{{Head: "Name", Key: true}, {Head: "Stands"}, {Head: "Ratio"}, {Head: "Connection"}, {Head: "Class"}, {Head: "Winding"}, {Head: "Note"}}}
	for i := range doc.CurrentTransformers.Entries {
		e := &doc.CurrentTransformers.Entries[i]
		c := &e.Item
		stands := ""
		switch {
		case c.Neutral.Given:
			stands = fmt.Sprintf("neutral (%s) of %s", c.Neutral.V, c.In.V)
		case c.At.Given:
			stands = fmt.Sprintf("at %s", c.At.V)
		default:
			stands = fmt.Sprintf("in %s near %s", c.In.V, c.Near.V)
		}
		if c.Facing.Given {
			stands += fmt.Sprintf(", facing %s", c.Facing.V)
		}
		how := c.Connection.V
		switch {
		case c.Encloses.Given:
			var sums []string
			for _, s := range c.Encloses.V {
				sums = append(sums, in.sumName(s))
			}
			how = "encloses " + strings.Join(sums, ", ")
		case how == "" && !c.Neutral.Given:
			how = "wye"
		}
		ratio := c.Ratio.Text
		if c.Full.Given {
			ratio += ", full " + c.Full.Text
		}
		winding := c.Resistance.Text
		if winding == "" {
			winding = c.Winding.V
		}
		t := []Cell{Words(e.Name), Words(stands), Words(ratio), Words(orDash(how)), Words(orDash(c.Class.V)), Words(orDash(strings.ReplaceAll(winding, "ohm", "Ω"))), Words(orDash(c.Note.V))}
		ct.Rows = append(ct.Rows, Row{Cells: t})
	}
	if len(ct.Rows) > 0 {
		blocks = append(blocks, ct)
	}

	vt := &Table{Name: "voltage transformers", Caption: "Voltage transformers and sensors",
		Columns: []Column{{Head: "Name", Key: true}, {Head: "Stands"}, {Head: "Ratio"}, {Head: "Connection"}, {Head: "Burden"}, {Head: "Note"}}}
	for i := range doc.VoltageTransformers.Entries {
		e := &doc.VoltageTransformers.Entries[i]
		v := &e.Item
		stands := fmt.Sprintf("at %s", v.At.V)
		if !v.At.Given {
			stands = fmt.Sprintf("in %s near %s", v.In.V, v.Near.V)
		}
		how := v.Connection.V
		switch {
		case v.Measures.Given:
			var sums []string
			for _, s := range v.Measures.V {
				sums = append(sums, in.sumName(s))
			}
			how = "measures " + strings.Join(sums, ", ")
		case how == "":
			how = "wye"
		}
		vt.Rows = append(vt.Rows, Row{Cells: []Cell{Words(e.Name), Words(stands), Words(v.Ratio.Text), Words(how), Words(orDash(v.Burden.Text)), Words(orDash(v.Note.V))}})
	}
	if len(vt.Rows) > 0 {
		blocks = append(blocks, vt)
	}

	relays := &Table{Name: "relays", Caption: "Relays and controls", Columns: []Column{{Head: "Name", Key: true}, {Head: "What it is"}, {Head: "Sees"}, {Head: "Trips"}}}
	for i := range doc.Relays.Entries {
		e := &doc.Relays.Entries[i]
		var sees, trips []string
		for _, c := range in.Report.Cases[:min(1, len(in.Report.Cases))] {
			for _, v := range c.Model.Vantages {
				if v.Kind == "relay" && v.Name == e.Name {
					for _, in := range v.Currents {
						sees = append(sees, in.Name)
					}
					for _, in := range v.Voltages {
						sees = append(sees, in.Name)
					}
				}
			}
		}
		for _, r := range e.Item.Trips.V {
			trips = append(trips, string(r))
		}
		relays.Rows = append(relays.Rows, Row{Cells: []Cell{Words(e.Name), Words(orDash(e.Item.Kind.V)), Words(orDash(strings.Join(sees, ", "))), Words(orDash(strings.Join(trips, ", ")))}})
	}
	if len(relays.Rows) > 0 {
		blocks = append(blocks, relays)
	}
	return blocks, nil
}

func lines(in *Input) ([]Block, error) {
	doc := in.Doc
	var blocks []Block
	t := &Table{Name: "line types", Caption: "Line types: impedance and charging per kilometre",
		Columns: []Column{{Head: "Type", Key: true}, {Head: "Given by"}, {Head: "z1 or loop", Unit: "Ω/km", Align: Right}, {Head: "z0", Unit: "Ω/km", Align: Right}, {Head: "b1", Unit: "µS/km", Align: Right}, {Head: "b0", Unit: "µS/km", Align: Right}, {Head: "Source"}}}
	var taken []string
	seen := map[string]bool{}
	hot := false
	add := func(e *study.Entry[study.LineType], warm bool) error {
		d, err := network.TypeOf(doc, e, warm)
		if err != nil {
			return fmt.Errorf("line type %q: %w", e.Name, err)
		}
		if warm && !d.Hot {
			return nil
		}
		name, how := e.Name, "impedances"
		if warm {
			name, hot = e.Name+", hot", true
		}
		switch {
		case e.Item.PoleTop.Given:
			how = fmt.Sprintf("pole top %s", e.Item.PoleTop.V)
		case e.Item.Cable.Given:
			how = fmt.Sprintf("cable %s", e.Item.Cable.V)
		}
		if d.Built != nil {
			how += ", " + d.Built.Method.String()
		}
		row := []Cell{Words(name), Words(how), Absent, Absent, Absent, Absent, Words(orDash(e.Origin.Source))}
		switch {
		case d.Single:
			row[2] = Words(ohms(d.Z1))
		case d.Sequence, d.Transposed, d.Averaged:
			row[2], row[3] = Words(ohms(d.Z1)), Words(ohms(d.Z0))
		}
		if d.B1 != 0 {
			row[4], row[5] = Number(d.B1*1e6, 4), Number(d.B0*1e6, 4)
		}
		for _, s := range d.Taken {
			if !seen[s] {
				seen[s] = true
				taken = append(taken, s)
			}
		}
		t.Rows = append(t.Rows, Row{Cells: row})
		return nil
	}
	for i := range doc.LineTypes.Entries {
		e := &doc.LineTypes.Entries[i]
		for _, warm := range []bool{false, true} {
			if err := add(e, warm); err != nil {
				return nil, err
			}
		}
	}
	if len(t.Rows) > 0 {
		t.Notes = append(t.Notes, taken...)
		if hot {
			t.Notes = append(t.Notes, "hot: with conductors at their highest temperature, for the conditions that ask for it.")
		}
		blocks = append(blocks, t)
	}
	s := &Table{Name: "line sections", Caption: "Line sections", Columns: []Column{{Head: "Section", Key: true}, {Head: "From"}, {Head: "To"}, {Head: "Type"}, {Head: "Phases"}, {Head: "Length"}, {Head: "Length", Unit: "km", Align: Right}}}
	for i := range doc.Lines.Entries {
		e := &doc.Lines.Entries[i]
		row := []Cell{Words(e.Name), Words(string(e.Item.From.V)), Words(string(e.Item.To.V)), Words(orDash(string(e.Item.Type.V))), Words(orDash(e.Item.Phases.Text)), Words(orDash(e.Item.Length.Text)), Absent}
		if e.Item.Length.Given {
			x := float64(e.Item.Length.V) / 1e3
			row[6] = Cell{Text: working.Number(x, 4), Number: &x}
		}
		s.Rows = append(s.Rows, Row{Cells: row})
	}
	if len(s.Rows) > 0 {
		blocks = append(blocks, s)
	}
	tr := &Table{Name: "transformers", Caption: "Transformers", Columns: []Column{{Head: "Name", Key: true}, {Head: "From"}, {Head: "To"}, {Head: "Group"}, {Head: "Rating"}, {Head: "Voltages"}, {Head: "Impedance"}, {Head: "Zero sequence"}, {Head: "X/R", Align: Right}}}
	for i := range doc.Transformers.Entries {
		e := &doc.Transformers.Entries[i]
		x := &e.Item
		tr.Rows = append(tr.Rows, Row{Cells: []Cell{Words(e.Name), Words(string(x.From.V)), Words(string(x.To.V)), Words(orDash(x.Group.Text)), Words(orDash(x.Rating.Text)), Words(orDash(x.Voltages.Text)), Words(orDash(x.Impedance.Text)), Words(orDash(x.ZeroSequence.Text)), Words(orDash(x.XR.Text))}})
	}
	if len(tr.Rows) > 0 {
		blocks = append(blocks, tr)
	}
	return blocks, nil
}
