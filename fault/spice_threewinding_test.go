package fault_test

import (
	"fmt"
	"strings"
	"testing"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/phasor"
	"feederwright/quantity"
)

// spiceCore is a limb with three coils; the legs of its star of leakages are in
// series with the coils, in ohm of each coil.
const spiceCore = `
.subckt core p1 m1 p2 m2 p3 m3 k2=1 k3=1 r1=1 x1=1 r2=1 x2=1 r3=1 x3=1
Xz1 p1 i z r={r1} x={x1}
X2 i m1 j m2 coils k={k2}
Xz2 j p2 z r={r2} x={x2}
X3 i m1 l m3 coils k={k3}
Xz3 l p3 z r={r3} x={x3}
.ends
`

// A three-winding transformer between a source and two loaded buses; three
// limbs of three coils, joined as the group says. The leg of each wye has more
// impedance in zero sequence than in positive: in the circuit, what is in the neutral.
//
//	S ── Hv ─┤T├─ Mv ── load
//	           └─ Tv ── load (or not brought out)
//
// Every value expected is derived: the state that ngspice gives.
func TestSpiceThreeWinding(t *testing.T) {
	t.Parallel()
	wye := func(k int) [3]string {
		return [3]string{fmt.Sprintf("t_%da s%d", k, k), fmt.Sprintf("t_%db s%d", k, k), fmt.Sprintf("t_%dc s%d", k, k)}
	}
	reversed := func(x [3]string) [3]string {
		for i := range x {
			a, b, _ := strings.Cut(x[i], " ")
			x[i] = b + " " + a
		}
		return x
	}
	later := func(x [3]string) [3]string { return [3]string{x[2], x[0], x[1]} } // by 120 degrees: terminal a on limb b
	toNext := func(k int) [3]string {
		return [3]string{fmt.Sprintf("t_%da t_%db", k, k), fmt.Sprintf("t_%db t_%dc", k, k), fmt.Sprintf("t_%dc t_%da", k, k)}
	}
	toLast := func(k int) [3]string {
		return [3]string{fmt.Sprintf("t_%da t_%dc", k, k), fmt.Sprintf("t_%db t_%da", k, k), fmt.Sprintf("t_%dc t_%db", k, k)}
	}
	for _, x := range []struct {
		group   string
		kinds   string // of the three windings; a capital letter has its neutral on earth
		lag     [3]int
		coils   [3][3]string // ends on limbs a, b, c of each winding
		inside  bool         // the third is not brought out
		third   complex128   // leg of the third winding, ohm of the first side
		reverse bool         // rotation ACB
	}{
		{group: "YNyn0d1", kinds: "YYd", lag: [3]int{0, 0, 1}, coils: [3][3]string{wye(0), wye(1), toNext(2)}, third: 0.7 + 5i},
		{group: "YNyn0d1, third leg negative", kinds: "YYd", lag: [3]int{0, 0, 1}, coils: [3][3]string{wye(0), wye(1), toNext(2)}, third: 0.7 - 1.5i},
		{group: "YNyn0d11, delta inside", kinds: "YYd", lag: [3]int{0, 0, 11}, coils: [3][3]string{wye(0), wye(1), toLast(2)}, inside: true, third: 0.7 + 5i},
		{group: "YNyn6d5", kinds: "YYd", lag: [3]int{0, 6, 5}, coils: [3][3]string{wye(0), reversed(wye(1)), reversed(toLast(2))}, third: 0.7 + 5i},
		{group: "YNyn4yn8", kinds: "YYY", lag: [3]int{0, 4, 8}, coils: [3][3]string{wye(0), later(wye(1)), later(later(wye(2)))}, third: 0.7 + 5i},
		{group: "YNyn10yn2", kinds: "YYY", lag: [3]int{0, 10, 2}, coils: [3][3]string{wye(0), later(reversed(wye(1))), later(later(reversed(wye(2))))}, third: 0.7 + 5i},
		{group: "Yyn0d1", kinds: "yYd", lag: [3]int{0, 0, 1}, coils: [3][3]string{wye(0), wye(1), toNext(2)}, third: 0.7 + 5i},
		{group: "YNy0d1", kinds: "Yyd", lag: [3]int{0, 0, 1}, coils: [3][3]string{wye(0), wye(1), toNext(2)}, third: 0.7 + 5i},
		{group: "Dyn1yn1", kinds: "dYY", lag: [3]int{0, 1, 1}, coils: [3][3]string{toLast(0), wye(1), wye(2)}, third: 0.7 + 5i},
		{group: "Dyn1yn7", kinds: "dYY", lag: [3]int{0, 1, 7}, coils: [3][3]string{toLast(0), wye(1), reversed(wye(2))}, third: 0.7 + 5i},
		{group: "Dyn1yn5", kinds: "dYY", lag: [3]int{0, 1, 5}, coils: [3][3]string{toLast(0), wye(1), later(wye(2))}, third: 0.7 + 5i},
		{group: "Dyn1yn3", kinds: "dYY", lag: [3]int{0, 1, 3}, coils: [3][3]string{toLast(0), wye(1), later(later(reversed(wye(2))))}, third: 0.7 + 5i},
		{group: "Dyn1d0", kinds: "dYd", lag: [3]int{0, 1, 0}, coils: [3][3]string{toLast(0), wye(1), toLast(2)}, third: 0.7 + 5i, reverse: true},
		{group: "Ddd6", kinds: "ddd", lag: [3]int{0, 0, 6}, coils: [3][3]string{toLast(0), toLast(1), reversed(toLast(2))}, third: 0.7 + 5i},
	} {
		t.Run(x.group, func(t *testing.T) {
			t.Parallel()
			volts := [3]float64{66e3, 12470, 4160}
			legs := [3]complex128{1.1 + 14i, 0.9 + 9i, x.third}
			more := [3]complex128{0.2 + 1.5i, 0.1 + 0.8i, 0.3 + 0.6i} // in the neutral, ohm of the first side; a third of it in each phase
			points := [3]complex128{0.5, 2 + 0.3i, 0.2}               // neutral impedances, ohm of their own sides

			h := &hand{hz: 50}
			h.Rotation = phasor.ABC
			d := network.ThreeWindingData{V: volts, Lag: x.lag}
			second, third := "b", "c"
			if x.reverse {
				h.Rotation, second, third = phasor.ACB, "c", "b"
			}
			var coil [3]float64 // turns voltage
			var leg [3]complex128
			zero := legs
			for k := range 3 {
				side := volts[k] * volts[k] / (volts[0] * volts[0])
				coil[k], leg[k] = volts[k], legs[k]*complex(3*side, 0)
				d.Winding[k] = quantity.Winding{Kind: 'D'}
				if x.kinds[k] == 'd' {
					continue
				}
				coil[k], leg[k] = coil[k]/1.7320508075688772, leg[k]/3
				zero[k] += 3 * more[k]
				d.Winding[k] = quantity.Winding{Kind: 'Y'}
				if x.kinds[k] == 'Y' {
					d.Winding[k].Neutral = true
					d.Point[k] = network.NeutralPoint{Exists: true, Earthed: true, Z: points[k]}
					h.neutrals = append(h.neutrals, fmt.Sprint("T ", k))
					z := points[k] + more[k]*complex(side, 0)
					h.cards += fmt.Sprintf("Vn_t_%d 0 n%[1]d 0\nXn%[1]d n%[1]d s%[1]d z r=%.17[2]g x=%.17[3]g\n", k, real(z), imag(z))
				}
			}
			for j, p := range [][2]int{{0, 1}, {0, 2}, {1, 2}} {
				d.Z1[j], d.Z0[j] = legs[p[0]]+legs[p[1]], zero[p[0]]+zero[p[1]]
			}
			for limb := range 3 {
				h.cards += fmt.Sprintf("Xlimb%d %s %s %s core k2=%.17g k3=%.17g r1=%.17g x1=%.17g r2=%.17g x2=%.17g r3=%.17g x3=%.17g\n", limb,
					x.coils[0][limb], x.coils[1][limb], x.coils[2][limb], coil[1]/coil[0], coil[2]/coil[0],
					real(leg[0]), imag(leg[0]), real(leg[1]), imag(leg[1]), real(leg[2]), imag(leg[2]))
			}
			h.cards = spiceCore + h.cards + fmt.Sprintf(`
Xs e1 e2 e3 0 emf v={67000/sqrt(3)} deg=7
Xzs e1 e2 e3 s_0a s_0%[1]s s_0%[2]s line3 r1=0.7 x1=8 r0=1.4 x0=14
Ra loadm_0a 0 40
Rb loadm_0b 0 70
Rc loadm_0c 0 50
`, second, third)
			do := h.must(t)
			hv, mv, tv := h.AddBus("Hv", abc, 66e3), h.AddBus("Mv", abc, 12470), -1
			buses := map[string]int{"Hv": hv, "Mv": mv}
			do(h.AddInfeed("S", hv, network.InfeedData{Z1: 0.7 + 8i, Z2: 0.7 + 8i, Z0: 1.4 + 14i, VLL: 67e3, Angle: 7 * degrees}))
			do(h.AddShunt(network.Load, "LoadM", mv, abc, []complex128{1. / 40, 0, 0, 0, 1. / 70, 0, 0, 0, 1. / 50}))
			if x.inside {
				h.cards = strings.NewReplacer("t_2a", "da", "t_2b", "db", "t_2c", "dc").Replace(h.cards) + "Rd da 0 1\n" // a corner on earth carries nothing
			} else {
				tv = h.AddBus("Tv", abc, 4160)
				buses["Tv"] = tv
				do(h.AddShunt(network.Load, "LoadT", tv, abc, []complex128{1. / 9, 0, 0, 0, 1. / 8, 0, 0, 0, 1. / 6}))
				h.cards += "Rta loadt_0a 0 9\nRtb loadt_0b 0 8\nRtc loadt_0c 0 6\n"
			}
			do(h.AddThreeWinding("T", [3]int{hv, mv, tv}, d))
			h.compare(t, append([]handCase{{}}, h.aFewFaults(t, 1.5, buses, "")...))
		})
	}
}

// A fuse blown before a three-winding transformer, and a line to earth beyond.
func TestSpiceOpenBeforeThreeWinding(t *testing.T) {
	t.Parallel()
	h := &hand{hz: 50, neutrals: []string{"T 0", "T 1"}, ports: []string{"t_0a", "t_0b", "t_0c", "u_a", "u_b", "u_c", "t_1a", "t_1b", "t_1c", "v_a", "v_b", "v_c"}, cards: spiceCore + `
.param k={12470/66000} m={4160*sqrt(3)/66000}
Xa u_a s0 v_a s1 t_2a t_2b core k2={k} k3={m} r1=1.1 x1=14 r2={k*k*0.9} x2={k*k*9} r3={m*m*0.7} x3={m*m*5}
Xb u_b s0 v_b s1 t_2b t_2c core k2={k} k3={m} r1=1.1 x1=14 r2={k*k*0.9} x2={k*k*9} r3={m*m*0.7} x3={m*m*5}
Xc u_c s0 v_c s1 t_2c t_2a core k2={k} k3={m} r1=1.1 x1=14 r2={k*k*0.9} x2={k*k*9} r3={m*m*0.7} x3={m*m*5}
Vn_t_0 0 s0 0
Vn_t_1 0 n1 0
Rn1 n1 s1 2
Xs e1 e2 e3 0 emf v={67000/sqrt(3)} deg=7
Xzs e1 e2 e3 s_0a s_0b s_0c line3 r1=0.7 x1=8 r0=1.4 x0=14
Ra loadm_0a 0 40
Rb loadm_0b 0 70
Rc loadm_0c 0 50
Rta loadt_0a 0 9
Rtb loadt_0b 0 8
Rtc loadt_0c 0 6
`}
	do := h.must(t)
	hv, mv, tv := h.AddBus("Hv", abc, 66e3), h.AddBus("Mv", abc, 12470), h.AddBus("Tv", abc, 4160)
	do(h.AddInfeed("S", hv, network.InfeedData{Z1: 0.7 + 8i, Z2: 0.7 + 8i, Z0: 1.4 + 14i, VLL: 67e3, Angle: 7 * degrees}))
	do(h.AddShunt(network.Load, "LoadM", mv, abc, []complex128{1. / 40, 0, 0, 0, 1. / 70, 0, 0, 0, 1. / 50}))
	do(h.AddShunt(network.Load, "LoadT", tv, abc, []complex128{1. / 9, 0, 0, 0, 1. / 8, 0, 0, 0, 1. / 6}))
	z := [3]complex128{2.0 + 23i, 1.8 + 19i, 1.6 + 14i}
	y := quantity.Winding{Kind: 'Y', Neutral: true}
	x := do(h.AddThreeWinding("T", [3]int{hv, mv, tv}, network.ThreeWindingData{
		Winding: [3]quantity.Winding{y, y, {Kind: 'D'}}, Lag: [3]int{0, 0, 1}, V: [3]float64{66e3, 12470, 4160}, Z1: z, Z0: z,
		Point: [3]network.NeutralPoint{{Exists: true, Earthed: true}, {Exists: true, Earthed: true, Z: 2}}}))
	cases := []handCase{{cards: join("t_0", "u_", abc) + join("t_1", "v_", abc)}}
	for _, phases := range []quantity.Phases{pa, pb, pa | pc, abc} {
		first := join("t_0", "u_", abc&^phases) + join("t_1", "v_", abc)
		second := join("t_0", "u_", abc) + join("t_1", "v_", abc&^phases)
		cases = append(cases,
			handCase{[]fault.Part{breakAt(x, 0, fault.OpenConductor, phases, 0)}, first, [2]string{"t_0", "u_"}})
		for _, k := range []string{"lg:A", "ll:BC", "3ph-g"} {
			k := kind(t, k)
			if phases != abc {
				cases = append(cases,
					handCase{[]fault.Part{breakAt(x, 0, fault.OpenConductor, phases, 0), shortPart(fault.AtBus(mv), k, 1)}, first + short(1, "mv", k, 1), [2]string{"t_0", "u_"}})
			}
			// At the second winding, whose V is on the transformer's side: the bus of a terminal that is not the first is beyond.
			cases = append(cases,
				handCase{[]fault.Part{breakAt(x, 1, fault.OpenConductor, phases, 0), shortPart(fault.AtBus(tv), k, 1)}, second + short(1, "tv", k, 1), [2]string{"v_", "t_1"}})
		}
	}
	h.compare(t, cases)
}
