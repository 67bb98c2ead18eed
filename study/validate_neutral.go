package study

import (
	"fmt"
	"strconv"

	"feederwright/quantity"
)

const neutralConductor = quantity.Phases(1 << 3)

// neutralConductors checks that conductor N goes on where its buses have it,
// and that it is earthed where the neutrals of sources stand: both are easily
// forgotten, and every earth fault comes out smaller then.
func (v *validator) neutralConductors() {
	for i := range v.doc.Lines.Entries {
		e := &v.doc.Lines.Entries[i]
		if v.bothHaveNeutral(e.Item.From, e.Item.To) && v.linePhases(&e.Item)&neutralConductor == 0 {
			v.endsHere(place(e.Item.Phases.At, e.Item.Type.At, e.NameAt), "line "+strconv.Quote(e.Name), e.Item.From.V, e.Item.To.V,
				"give it a matrix with N, or a type with neutral: explicit; or leave N out of the buses where the line's neutral counts as earthed all along")
		}
	}
	for i := range v.doc.Regulators.Entries {
		e := &v.doc.Regulators.Entries[i]
		v.passes(e.Item.From, e.Item.To, e.Item.Phases, "regulator "+strconv.Quote(e.Name))
	}
	for i := range v.doc.Reactors.Entries {
		e := &v.doc.Reactors.Entries[i]
		v.passes(e.Item.From, e.Item.To, e.Item.Phases, "reactor "+strconv.Quote(e.Name))
	}
	v.neutralsOfSources()
}

func (v *validator) bothHaveNeutral(from, to Value[Ref]) bool {
	a, b := v.bus(from), v.bus(to)
	return a != nil && b != nil && a.phases()&b.phases()&neutralConductor != 0
}

// passes checks that the phases given to a branch without a neutral of its
// own don't leave N out where both buses have it.
func (v *validator) passes(from, to Value[Ref], phases Value[quantity.Phases], object string) {
	if phases.Given && phases.V&neutralConductor == 0 && v.bothHaveNeutral(from, to) {
		v.endsHere(phases.At, object, from.V, to.V, "add N to its phases, if the neutral passes it")
	}
}

func (v *validator) endsHere(at Mark, object string, from, to Ref, fix string) {
	v.warn(at, object, fmt.Sprintf("conductor N of buses %q and %q is not joined by it", from, to), "both buses have N, and this branch does not carry it: N ends on both sides", fix)
}

// neutralsOfSources checks that N is earthed solidly at the buses where the
// neutrals of three-phase windings and machines are earthed: these are
// joined to earth, not to N, so what flows in N reaches them through the
// earthing of N alone.
func (v *validator) neutralsOfSources() {
	told := make(map[Ref]bool)
	const station = "write neutral earthing: solid; the earth is then that of the station"
	fix := station
	check := func(ref Value[Ref], n Value[quantity.Neutral], object string) {
		b := v.bus(ref)
		if b == nil || b.phases()&neutralConductor == 0 || !n.Given || n.V.Open || b.NeutralEarthing.Given && b.NeutralEarthing.V.Solid || told[ref.V] {
			return
		}
		told[ref.V] = true
		e := v.doc.Buses.Find(string(ref.V))
		v.warn(place(b.NeutralEarthing.At, e.NameAt), "bus "+strconv.Quote(e.Name), fmt.Sprintf("conductor N is not earthed solidly where the neutral of %s is", object),
			"neutrals of three-phase windings and machines are joined to earth, not to conductor N: what flows in N reaches them through the earthing of N at this bus alone",
			fix)
	}
	for i := range v.doc.Supply.Entries {
		e := &v.doc.Supply.Entries[i]
		for _, l := range []*InfeedLevel{e.Item.Maximum, e.Item.Minimum, e.Item.Future} {
			if l != nil && (l.LineToGround.Given || l.Z0.Given && !l.Z0.V.Open) {
				check(e.Item.At, Value[quantity.Neutral]{Given: true}, "infeed "+strconv.Quote(e.Name))
			}
		}
	}
	fix = "in a station " + station + ". Out on the line, describe the transformer as a bank of three single-phase units: they end at conductor N"
	for i := range v.doc.Transformers.Entries {
		e := &v.doc.Transformers.Entries[i]
		t, object := &e.Item, "transformer "+strconv.Quote(e.Name)
		if !t.Group.Given {
			continue
		}
		own := func(n Value[quantity.Neutral], w quantity.Winding) Value[quantity.Neutral] {
			if !n.Given && w.Neutral {
				return t.Neutral
			}
			return n
		}
		check(t.From, own(t.FromNeutral, t.Group.V.From), object)
		check(t.To, own(t.ToNeutral, t.Group.V.To), object)
	}
	fix = station
	for i := range v.doc.ThreeWinding.Entries {
		e := &v.doc.ThreeWinding.Entries[i]
		t, object := &e.Item, "three-winding transformer "+strconv.Quote(e.Name)
		check(t.First, t.FirstNeutral, object)
		check(t.Second, t.SecondNeutral, object)
		check(t.Third, t.ThirdNeutral, object)
	}
	for i := range v.doc.SynchronousMachines.Entries {
		e := &v.doc.SynchronousMachines.Entries[i]
		check(e.Item.At, e.Item.Neutral, "synchronous machine "+strconv.Quote(e.Name))
	}
}
