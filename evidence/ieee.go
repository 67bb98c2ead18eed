package evidence

import (
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"math/cmplx"
	"sort"
	"strconv"
	"strings"

	"feederwright/fault"
	"feederwright/internal/onefile"
)

const feeders = "IEEE PES radial distribution test feeders"

// feederFiles are studies of the test feeders and the currents expected in them.
//
//go:embed testdata/ieee13 testdata/ieee34
var feederFiles embed.FS

// ieee: untransposed feeders with one- and two-phase laterals.
func ieee() []Case {
	return []Case{{ID: "IEEE13", Title: "13-node test feeder: bolted faults at every node", Method: "phase impedance matrices of three, two and one conductors, study file to result",
		Source:      "data: IEEE PES 13-node radial test feeder (Kersting, IEEE Trans. Power Syst. 6(3), 1991; sheet read in a copy, some configurations from memory); currents: phase-frame calculation outside this program, not published ones",
		Publication: feeders, Label: Derived,
		Note: "115 kV source infinite, substation transformer 5 MVA 1 + j8 %, regulator in neutral, 4.16 kV before the fault, no loads, capacitors or charging.",
		Run:  testFeeder("testdata/ieee13", 1)},
		{ID: "IEEE34", Title: "34-node test feeder: bolted faults along it and at its ends", Method: "phase impedance matrices, regulators at unequal positions, single-phase laterals, study file to result",
			Source:      "data: IEEE PES 34-node radial test feeder (Kersting, IEEE Trans. Power Syst. 6(3), 1991) [from memory]; currents: modified nodal analysis outside this program, not published ones",
			Publication: feeders, Label: Derived,
			Note: "69 kV source j0.1 ohm, regulators of 0.001 % on 2.5 MVA at the positions of the published load flow, no loads, capacitors or charging.",
			Run:  testFeeder("testdata/ieee34", 4)},
		{ID: "IEEE4", Title: "4-node test feeder: bolted faults on both sides of its transformer", Method: "delta-wye and wye-wye transformers between untransposed lines",
			Source:      "data: IEEE PES 4-node test feeder, step-down [from memory]; currents: modified nodal analysis outside this program, not published ones",
			Publication: feeders, Label: Derived, Note: "Source infinite, no loads, no charging.", Run: fourNodes},
		{ID: "CIGRE-MV", Title: "20 kV benchmark of two feeders: every node, radial and with its open points closed", Method: "meshed lines with two transformers in parallel through them, study file to result",
			Source:      "data: CIGRE Technical Brochure 575 (2014), European medium-voltage benchmark [from memory]; currents: modified nodal analysis outside this program, not published ones",
			Publication: "CIGRE Technical Brochure 575", Label: Derived,
			Note: "The zero-sequence figures and the earthing of the neutrals are remembered unsurely: this shows that two calculations agree.", Run: benchmark}}
}

func testFeeder(folder string, decimals int) func(Change) ([]Value, error) {
	return func(change Change) ([]Value, error) { return feederFaults(folder, decimals, change) }
}

func feederFaults(folder string, decimals int, change Change) ([]Value, error) {
	files, err := fs.Sub(feederFiles, folder)
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
				values = append(values, Value{fmt.Sprintf("%s, 3ph-g, phase %c", node, "ABC"[k]), amp, cmplx.Abs(r.I[k]), "A", within(decimals)})
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
				values = append(values, Value{node + ", " + kind, amp, r.Largest(), "A", within(decimals)})
			}
		}
	}
	return values, nil
}

// fourNodes: 12.47 kV, a transformer of 6 MVA to 4.16 kV, a line on each side.
func fourNodes(change Change) ([]Value, error) {
	var values []Value
	for _, w := range []struct {
		group, more string
		want        map[string][]string // node: 3ph-g of A B C, lg of A B C, ll of AB BC CA
	}{
		{"Dyn1", "neutral: solid", map[string][]string{
			"2": {"26341.5", "30127.1", "26095.6", "16229.9", "16565.7", "16374.1", "25742.4", "23409.5", "21895.6"},
			"3": {"11624.1", "11928.5", "11810.0", "12256.2", "12476.1", "12349.4", "10218.0", "10330.2", "10071.8"},
			"4": {"4420.0", "4832.4", "4404.3", "3213.9", "3280.0", "3242.2", "4150.7", "3919.9", "3718.1"}}},
		{"YNyn0", "from neutral: solid, to neutral: solid", map[string][]string{
			"3": {"11735.7", "11930.0", "11698.9", "10734.8", "10790.0", "10758.6", "10343.0", "10193.2", "10083.9"},
			"4": {"4440.7", "4841.6", "4380.2", "3097.0", "3148.9", "3119.3", "4170.1", "3900.8", "3719.7"}}},
	} {
		c, err := openText(fmt.Sprintf(`
feederwright: 1
study: IEEE 4-node test feeder
frequency: 60 Hz
supply:
  source: { at: "1", maximum: { z1: j0.0000001 ohm, z0: j0.0000001 ohm } }
buses:
  "1": { voltage: 12.47 kV }
  "2": { voltage: 12.47 kV }
  "3": { voltage: 4.16 kV }
  "4": { voltage: 4.16 kV }
line types:
  OH:
    matrix:
      - [0.4576 + j1.0780 ohm/mi]
      - [0.1560 + j0.5017 ohm/mi, 0.4666 + j1.0482 ohm/mi]
      - [0.1535 + j0.3849 ohm/mi, 0.1580 + j0.4236 ohm/mi, 0.4615 + j1.0651 ohm/mi]
lines:
  1-2: { from: "1", to: "2", type: OH, length: 2000 ft }
  3-4: { from: "3", to: "4", type: OH, length: 2500 ft }
transformers:
  T: { from: "2", to: "3", group: %s, rating: 6 MVA, voltages: 12.47/4.16 kV, impedance: 6.0827625303 %%, zero-sequence: 6.0827625303 %%, x/r: 6, %s }
`, w.group, w.more), change)
		if err != nil {
			return nil, err
		}
		for _, node := range []string{"2", "3", "4"} {
			for k, want := range w.want[node] {
				kind := []string{"3ph-g", "3ph-g", "3ph-g", "lg:A", "lg:B", "lg:C", "ll:AB", "ll:BC", "ll:CA"}[k]
				r, err := faultAt(c, node, kind)
				if err != nil {
					return nil, err
				}
				got, what := r.Largest(), kind
				if k < 3 {
					got, what = cmplx.Abs(r.I[k]), kind+" "+"ABC"[k:k+1]
				}
				values = append(values, print(fmt.Sprintf("%s, node %s, %s", w.group, node, what), want, got, "A"))
			}
		}
	}
	return values, nil
}

// benchmark: 110/20 kV with two feeders, in their radial state and with the
// three open points closed.
func benchmark(change Change) ([]Value, error) {
	const text = `
feederwright: 1
study: medium-voltage benchmark
frequency: 50 Hz
method: { charging: neglected }
supply:
  grid: { at: "0", maximum: { three-phase: 5000 MVA, x/r: 10, z0: open } }
buses:
  "0": { voltage: 110 kV }
%stransformers:
  T1: { from: "0", to: "1", group: Dyn1, rating: 25 MVA, voltages: 110/20 kV, impedance: 12.00107 %%, zero-sequence: 12.00107 %%, x/r: %.12f, neutral: solid }
  T2: { from: "0", to: "12", group: Dyn1, rating: 25 MVA, voltages: 110/20 kV, impedance: 12.00107 %%, zero-sequence: 12.00107 %%, x/r: %.12f, neutral: solid }
line types:
  cable:    { z1: 0.501 + j0.716 ohm/km, z0: 0.817 + j1.598 ohm/km }
  overhead: { z1: 0.510 + j0.366 ohm/km, z0: 0.658 + j1.611 ohm/km }
lines:
%sswitches:
  S1: { in: 14-8, near: "14", normally: open }
  S2: { in: 6-7,  near: "6",  normally: open }
  S3: { in: 11-4, near: "11", normally: open }
conditions:
  radial: {}
  closed: { close: [S1, S2, S3] }
`
	var buses, lines strings.Builder
	for k := 1; k <= 14; k++ {
		fmt.Fprintf(&buses, "  %q: { voltage: 20 kV }\n", strconv.Itoa(k))
	}
	for _, l := range []struct {
		from, to int
		km       float64
		kind     string
	}{{1, 2, 2.82, "cable"}, {2, 3, 4.42, "cable"}, {3, 4, 0.61, "cable"}, {4, 5, 0.56, "cable"}, {5, 6, 1.54, "cable"}, {6, 7, 0.24, "cable"},
		{7, 8, 1.67, "cable"}, {8, 9, 0.32, "cable"}, {9, 10, 0.77, "cable"}, {10, 11, 0.33, "cable"}, {11, 4, 0.49, "cable"}, {3, 8, 1.30, "cable"},
		{12, 13, 4.89, "overhead"}, {13, 14, 2.99, "overhead"}, {14, 8, 2.00, "overhead"}} {
		fmt.Fprintf(&lines, "  %d-%d: { from: %q, to: %q, type: %s, length: %g km }\n", l.from, l.to, strconv.Itoa(l.from), strconv.Itoa(l.to), l.kind, l.km)
	}
	xr := math.Sqrt(12.00107*12.00107-0.16*0.16) / 0.16
	files := onefile.FS{Name: "study.yaml", Text: []byte(strings.TrimLeft(fmt.Sprintf(text, buses.String(), xr, xr, lines.String()), "\n"))}
	var values []Value
	for _, w := range []struct {
		condition string
		rows      [][4]string // node; three-phase, line-to-earth, earth current of B and C to earth
	}{
		{"radial", [][4]string{
			{"1", "5773.83", "5851.59", "5931.46"}, {"2", "2703.53", "2252.68", "1930.70"}, {"3", "1432.19", "1122.80", "922.98"}, {"4", "1344.13", "1049.77", "860.78"},
			{"5", "1272.24", "990.58", "810.62"}, {"6", "1108.91", "857.54", "698.61"}, {"7", "1085.36", "838.52", "682.69"}, {"8", "1256.63", "977.78", "799.80"},
			{"9", "1219.78", "947.64", "774.35"}, {"10", "1139.32", "882.17", "719.27"}, {"11", "1107.99", "856.79", "697.99"}, {"12", "5773.83", "5851.59", "5931.46"},
			{"13", "2535.07", "1798.95", "1382.21"}, {"14", "1819.57", "1246.93", "934.82"}}},
		{"closed", [][4]string{
			{"1", "6365.97", "6357.82", "6347.66"}, {"2", "3586.80", "2902.27", "2435.56"}, {"3", "2787.02", "2067.28", "1635.07"}, {"4", "2649.88", "1958.84", "1545.88"},
			{"5", "2474.60", "1828.05", "1442.26"}, {"6", "2335.91", "1721.76", "1356.53"}, {"7", "2351.30", "1732.34", "1364.44"}, {"8", "2801.42", "2054.29", "1611.98"},
			{"9", "2684.17", "1971.79", "1549.34"}, {"10", "2564.13", "1889.93", "1488.64"}, {"11", "2572.12", "1898.12", "1496.33"}, {"12", "6365.97", "6357.82", "6347.66"},
			{"13", "3498.73", "2511.41", "1945.03"}, {"14", "2955.51", "2118.98", "1638.88"}}},
	} {
		c, err := open(files, "study.yaml", w.condition, change)
		if err != nil {
			return nil, err
		}
		for _, row := range w.rows {
			for k, kind := range []string{"3ph", "lg:A", "ll-g:BC"} {
				r, err := faultAt(c, row[0], kind)
				if err != nil {
					return nil, err
				}
				got := r.Largest()
				if kind == "ll-g:BC" {
					got = cmplx.Abs(r.Earth)
				}
				values = append(values, print(fmt.Sprintf("%s, node %s, %s", w.condition, row[0], kind), row[1+k], got, "A"))
			}
		}
	}
	return values, nil
}
