package dossier

import (
	"fmt"
	"math/cmplx"
	"slices"
	"strings"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/phasor"
	"feederwright/study"
	"feederwright/working"
)

func relaysSee(in *Input) ([]Block, error) {
	if len(in.Report.Cases) == 0 || len(in.Report.Cases[0].Model.Vantages) == 0 {
		return nil, nil
	}
	s := in.sweep
	shown := []fault.Type{fault.ThreePhase, fault.LineLine, fault.LineEarth}
	t := &Table{Name: "relays, largest", Caption: "The most that each set of current transformers sees, over all places and conditions",
		Columns: []Column{{Head: "Current transformer", Key: true}, {Head: "Kind"}, {Head: "Primary", Unit: "A", Align: Right}, {Head: "Secondary", Unit: "A", Align: Right}, {Head: "Fault"}, {Head: "at"}, {Head: "in"}}}
	for v := range in.Report.Cases[0].Model.Vantages {
		vantage := &in.Report.Cases[0].Model.Vantages[v]
		if len(vantage.Currents) == 0 {
			continue
		}
		t.Rows = append(t.Rows, Row{Head: true, Cells: []Cell{Words(vantageTitle(in, vantage))}})
		for _, input := range vantage.Currents {
			looks := s.most[vantage.Name+"\x00"+input.Name]
			first := true
			for n, typ := range s.types {
				if !slices.Contains(shown, typ) || looks == nil {
					continue
				}
				name := ""
				if first {
					name = fmt.Sprintf("%s %s", input.Name, input.Ratio)
				}
				l := looks[n]
				row := []Cell{Words(name), Words(typ.String())}
				if l.primary == 0 {
					row = append(row, Number(0, digits), Number(0, digits), Absent, Absent, Absent)
				} else {
					row = append(row, Number(l.primary, digits), Number(l.secondary, digits), Words(in.kindName(l.kind)), Words(l.place), Words(tag(l.condition)))
				}
				t.Rows = append(t.Rows, Row{Cells: row, Rule: first})
				first = false
			}
		}
	}
	t.Notes = []string{"Primary: the largest of the conductors' currents; their sum in a neutral, and where one circuit has several conductors. Secondary: the largest of its circuits, at the ratio in use, without the transformer's error."}
	blocks := []Block{Para{Text: T("What stands here is the current that an ideal instrument transformer gives. Saturation, burden and accuracy are not counted.")}, t}
	ends, err := endOfZones(in)
	if err != nil {
		return nil, err
	}
	if ends != nil {
		blocks = append(blocks, Heading{"Smallest faults at the ends of zones"},
			Para{Text: T("The zone of a device is what lies beyond it, away from the infeeds, as far as the next protective device, with the study as written; of a device with infeeds on both sides, what lies beyond the branch that it stands in. Its end is the bus with the smallest line-to-line current while every device stands as written. The smallest fault there, over the conditions in which at least a hundredth of its current, referred to the voltage there, passes the current transformer, is what a setting must not miss.")}, ends)
	}
	return blocks, nil
}

func vantageTitle(in *Input, v *network.Vantage) string {
	title := v.Kind + " " + v.Name
	if r := in.Doc.Relays.Find(v.Name); r != nil && v.Kind == "relay" {
		if r.Item.Kind.V != "" {
			title += ", " + r.Item.Kind.V
		}
		if len(r.Item.Trips.V) > 0 {
			var names []string
			for _, d := range r.Item.Trips.V {
				names = append(names, string(d))
			}
			title += "; trips " + strings.Join(names, ", ")
		}
	}
	return title
}

// endOfZones lists what each relay sees of the smallest faults at the end of
// the zones of the devices that it trips.
func endOfZones(in *Input) (*Table, error) {
	s := in.sweep
	t := &Table{Name: "relays, smallest", Caption: "The smallest faults at the ends of zones, as the relay that trips sees them",
		Columns: []Column{{Head: "Relay, current transformer", Key: true}, {Head: "Fault"}, {Head: "Fault current", Unit: "A", Align: Right}, {Head: "Primary", Unit: "A", Align: Right},
			{Head: "3I0", Unit: "A", Align: Right}, {Head: "Secondary", Unit: "A", Align: Right}, {Head: "in"}}}
	for _, relay := range in.Doc.Relays.Entries {
		shown := map[int]bool{}
		for _, z := range in.zones {
			if z.end < 0 || shown[z.end] || !slices.ContainsFunc(relay.Item.Trips.V, func(r study.Ref) bool { return string(r) == z.device.Name }) {
				continue
			}
			shown[z.end] = true
			var rows []Row
			for _, typ := range []fault.Type{fault.LineLine, fault.LineEarth} {
				more, err := in.smallestSeen(relay.Name, s.places[z.end], typ)
				if err != nil {
					return nil, err
				}
				rows = append(rows, more...)
			}
			if len(rows) > 0 {
				t.Rows = append(t.Rows, Row{Head: true, Cells: []Cell{Words(fmt.Sprintf("%s for %s %s, zone as far as %s", relay.Name, z.device.Kind, z.device.Name, s.places[z.end]))}})
				t.Rows = append(t.Rows, rows...)
			}
		}
	}
	if len(t.Rows) == 0 {
		return nil, nil
	}
	t.Notes = []string{"Primary and 3I0 are what the current transformer's conductors carry, 3I0 their sum."}
	return t, nil
}

// leastShare is how much of a fault's current counts as the relay seeing it:
// less is charging, or what a ring leaves over.
const leastShare = 0.01

// smallestSeen gives, for each current input of a relay, the smallest fault of
// a type at a place over the conditions in which the input sees it.
func (in *Input) smallestSeen(relay, place string, typ fault.Type) ([]Row, error) {
	type best struct {
		name, kind                            string
		current, primary, residual, secondary float64
		condition                             int
	}
	var list []best
	for i, c := range in.Report.Cases {
		p, err := c.ParsePlace(place)
		if err != nil {
			return nil, err
		}
		t, err := c.At(p.Place)
		if err != nil || typ.NeedsZero() && c.UnprovenEarth(p.Place) != "" {
			continue
		}
		for _, k := range fault.Combinations(typ, t.Phases) {
			res, err := c.Fault(p.Place, k, 0)
			if err != nil {
				return nil, err
			}
			for _, r := range c.Read(res) {
				if r.Vantage.Name != relay || r.Vantage.Kind != "relay" {
					continue
				}
				for n, cur := range r.Currents {
					for len(list) <= n {
						list = append(list, best{name: fmt.Sprintf("%s %s", cur.Input.Name, cur.Input.Ratio), condition: -1})
					}
					if cur.Note != "" {
						continue
					}
					l := lookAt(cur.Input, cur.Primary, res.Scale())
					referred := res.Largest()
					if b := cur.Input.Probe.Bus(c.Net); b >= 0 && c.Net.Buses[b].Nominal > 0 {
						referred *= c.Net.Buses[c.Net.BusByName(place)].Nominal / c.Net.Buses[b].Nominal
					}
					if l.primary == 0 || l.primary < leastShare*referred {
						continue
					}
					b := &list[n]
					if b.condition < 0 || l.primary < b.primary*(1-1e-9) {
						residual := cmplx.Abs(cur.Residual)
						if residual < 1e-9*l.primary {
							residual = 0
						}
						*b = best{b.name, in.kindName(k), res.Largest(), l.primary, residual, l.secondary, i}
					}
				}
			}
		}
	}
	var rows []Row
	for _, b := range list {
		if b.condition >= 0 {
			rows = append(rows, Row{Cells: []Cell{Words(b.name), Words(b.kind), Number(b.current, digits), Number(b.primary, digits), Number(b.residual, digits), Number(b.secondary, digits), Words(tag(b.condition))}})
		}
	}
	return rows, nil
}

// mostWorkings bounds the chapter of workings: some three hundred steps, which
// is what a reviewer can be asked to leaf through.
const mostWorkings = 48

// workings derives the faults that settings turn on: at the end of each
// device's zone the largest three-phase and line-to-earth fault and the
// smallest line-to-line one.
func workings(in *Input) ([]Block, error) {
	s := in.sweep
	blocks := []Block{Para{Text: T("At the end of the zone of every breaker, recloser and fuse, over the conditions in which it is closed: the largest three-phase and line-to-earth currents, and the smallest line-to-line current, each derived again step by step from the impedances on the way to the source, beside the network's own solution. The command ").
		Code("feederwright faults STUDY --at PLACE --kind KIND --condition CONDITION --working").Plain(" shows the same of any other fault.")}}
	done := map[string]bool{}
	count, left := 0, 0
	for _, z := range in.zones {
		if z.end < 0 {
			continue
		}
		var part []Block
		for _, want := range []struct {
			typ     fault.Type
			largest bool
		}{{fault.ThreePhase, true}, {fault.LineEarth, true}, {fault.LineLine, false}} {
			x, y, _ := s.extremesIn(z.end, slices.Index(s.types, want.typ), func(i int) bool { return !in.States[i].Open[z.device.Name] })
			word := "largest"
			if !want.largest {
				x, word = y, "smallest"
			}
			if !x.exists || x.current == 0 {
				continue
			}
			c := in.Report.Cases[x.condition]
			p, err := c.ParsePlace(s.places[z.end])
			if err != nil {
				return nil, err
			}
			key := fmt.Sprintf("%s %v %d", p.Name, x.kind, x.condition)
			if done[key] {
				continue
			}
			if count >= mostWorkings {
				left++
				continue
			}
			done[key] = true
			count++
			res, err := c.Fault(p.Place, x.kind, 0)
			if err != nil {
				return nil, err
			}
			steps, err := c.Working(res)
			if err != nil {
				return nil, err
			}
			title := fmt.Sprintf("%s at %s, %s %s current: %s A∠%s°, %s: %s", in.kindName(x.kind), p.Name, word, want.typ.Words(), working.Number(x.current, digits),
				strings.ReplaceAll(fmt.Sprintf("%.1f", phasor.Degrees(largestOf(res))), "-", "−"), tag(x.condition), c.Model.State.Name)
			part = append(part, Steps{Title: title, Steps: steps})
		}
		if len(part) > 0 {
			blocks = append(blocks, Heading{fmt.Sprintf("%s%s %s: end of its zone at %s", strings.ToUpper(z.device.Kind[:1]), z.device.Kind[1:], z.device.Name, s.places[z.end])})
			blocks = append(blocks, part...)
		}
	}
	if count == 0 {
		return nil, nil
	}
	if left > 0 {
		blocks = append(blocks, Para{Text: T(fmt.Sprintf("%s of the same kind not shown.", plural(left, "further working is", "further workings are")))})
	}
	return blocks, nil
}

func largestOf(r *fault.Result) complex128 {
	var most complex128
	for _, i := range r.I {
		if cmplx.Abs(i) > cmplx.Abs(most)*(1+1e-9) {
			most = i
		}
	}
	return most
}
