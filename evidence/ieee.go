package evidence

import (
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"math/cmplx"
	"sort"

	"feederwright/fault"
)

// ieee13Files are a study of the test feeder and the currents expected in it.
//
//go:embed testdata/ieee13
var ieee13Files embed.FS

// ieee13: an untransposed feeder with one- and two-phase laterals.
func ieee13() []Case {
	return []Case{{ID: "IEEE13", Title: "13-node test feeder: bolted faults at every node", Method: "phase impedance matrices of three, two and one conductors, study file to result",
		Source:      "data: IEEE PES 13-node radial test feeder (Kersting, IEEE Trans. Power Syst. 6(3), 1991; sheet read in a copy, some configurations from memory); currents: phase-frame calculation outside this program, not published ones",
		Publication: "IEEE PES radial distribution test feeders", Label: Derived,
		Note: "115 kV source infinite, substation transformer 5 MVA 1 + j8 %, regulator in neutral, 4.16 kV before the fault, no loads, capacitors or charging.",
		Run:  thirteenNodes}}
}

func thirteenNodes(change Change) ([]Value, error) {
	files, err := fs.Sub(ieee13Files, "testdata/ieee13")
	if err != nil {
		return nil, err
	}
	var want struct {
		Nodes map[string]struct {
			ThreePhase []float64          `json:"three_phase_ground_A"` // A B C
			LG         map[string]float64 `json:"SLG_A"`
			LL         map[string]float64 `json:"LL_A"`
		} `json:"nodes"`
	}
	text, err := fs.ReadFile(files, "faults.json")
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(text, &want); err != nil {
		return nil, fmt.Errorf("faults.json: %w", err)
	}
	c, err := open(files, "study.yaml", "all", change)
	if err != nil {
		return nil, err
	}
	var nodes []string
	for n := range want.Nodes {
		nodes = append(nodes, n)
	}
	sort.Strings(nodes)
	var values []Value
	for _, node := range nodes {
		p, err := c.ParsePlace(node)
		if err != nil {
			return nil, err
		}
		run := func(kind string) (*fault.Result, error) {
			r, err := at(c.Solver, p.Place, kind, 0)
			if err != nil {
				return nil, fmt.Errorf("%s at %s: %w", kind, node, err)
			}
			return r, nil
		}
		w := want.Nodes[node]
		if len(w.ThreePhase) > 0 {
			r, err := run("3ph-g")
			if err != nil {
				return nil, err
			}
			for k, amp := range w.ThreePhase {
				values = append(values, Value{fmt.Sprintf("%s, 3ph-g, phase %c", node, "ABC"[k]), amp, cmplx.Abs(r.I[k]), "A", within(1)})
			}
		}
		for _, set := range []struct {
			kind  string
			names []string
			want  map[string]float64
		}{{"lg", []string{"A", "B", "C"}, w.LG}, {"ll", []string{"AB", "BC", "CA"}, w.LL}} {
			for _, phases := range set.names {
				amp, ok := set.want[phases]
				if !ok {
					continue
				}
				kind := set.kind + ":" + phases
				r, err := run(kind)
				if err != nil {
					return nil, err
				}
				values = append(values, Value{node + ", " + kind, amp, r.Largest(), "A", within(1)})
			}
		}
	}
	return values, nil
}
