package study

import "feederwright/quantity"

// A Branch is plant between buses, by whatever table it stands in: devices
// and instrument transformers stand at its ends.
type Branch struct {
	Kind, Name string
	NameAt     Mark
	// Ends are the buses that it joins, in the order of its keys; a third one
	// is left out where a three-winding unit does not bring it out.
	Ends []Value[Ref]
}

// Branches lists the branches of the study, by kind and in the order of the
// file.
func (doc *Document) Branches() []Branch {
	var list []Branch
	for i := range doc.Lines.Entries {
		e := &doc.Lines.Entries[i]
		list = append(list, Branch{"line", e.Name, e.NameAt, []Value[Ref]{e.Item.From, e.Item.To}})
	}
	for i := range doc.Transformers.Entries {
		e := &doc.Transformers.Entries[i]
		list = append(list, Branch{"transformer", e.Name, e.NameAt, []Value[Ref]{e.Item.From, e.Item.To}})
	}
	for i := range doc.ThreeWinding.Entries {
		e := &doc.ThreeWinding.Entries[i]
		ends := []Value[Ref]{e.Item.First, e.Item.Second}
		if there(e.Item.Third.At) {
			ends = append(ends, e.Item.Third)
		}
		list = append(list, Branch{"three-winding transformer", e.Name, e.NameAt, ends})
	}
	for i := range doc.Banks.Entries {
		e := &doc.Banks.Entries[i]
		list = append(list, Branch{"bank", e.Name, e.NameAt, []Value[Ref]{e.Item.From, e.Item.To}})
	}
	for i := range doc.Regulators.Entries {
		e := &doc.Regulators.Entries[i]
		list = append(list, Branch{"regulator", e.Name, e.NameAt, []Value[Ref]{e.Item.From, e.Item.To}})
	}
	for i := range doc.Reactors.Entries {
		e := &doc.Reactors.Entries[i]
		list = append(list, Branch{"reactor", e.Name, e.NameAt, []Value[Ref]{e.Item.From, e.Item.To}})
	}
	return list
}

// Branch finds a branch by its name.
func (doc *Document) Branch(name string) (Branch, bool) {
	switch {
	case doc.Lines.Find(name) != nil:
		e := doc.Lines.Find(name)
		return Branch{"line", name, e.NameAt, []Value[Ref]{e.Item.From, e.Item.To}}, true
	case doc.Transformers.Find(name) != nil:
		e := doc.Transformers.Find(name)
		return Branch{"transformer", name, e.NameAt, []Value[Ref]{e.Item.From, e.Item.To}}, true
	}
	for _, b := range doc.Branches() {
		if b.Name == name {
			return b, true
		}
	}
	return Branch{}, false
}

// End is the number of the end at a bus, or −1.
func (b Branch) End(bus Ref) int {
	for i, e := range b.Ends {
		if e.Given && e.V == bus {
			return i
		}
	}
	return -1
}

// BranchConductors are the conductors of a branch at one of its ends: of a
// bank those that its units end at, of other plant the same at every end.
func (doc *Document) BranchConductors(b Branch, end int) quantity.Phases {
	phases := func(ref Value[Ref]) quantity.Phases {
		if e := doc.Buses.Find(string(ref.V)); e != nil {
			return e.Item.phases()
		}
		return threePhases
	}
	switch b.Kind {
	case "bank":
		return doc.bankConductors(b.Name, phases(b.Ends[end]), end)
	case "regulator":
		if p := doc.Regulators.Find(b.Name).Item.Phases; p.Given {
			return p.V
		}
	case "reactor":
		if p := doc.Reactors.Find(b.Name).Item.Phases; p.Given {
			return p.V
		}
	default:
		return threePhases
	}
	return phases(b.Ends[0]) & phases(b.Ends[1])
}

// bankConductors are those that a bank's units end at on one side; N counts
// only where the bus has it as a conductor.
func (doc *Document) bankConductors(bank string, bus quantity.Phases, end int) quantity.Phases {
	var p quantity.Phases
	for i := range doc.SinglePhase.Entries {
		u := &doc.SinglePhase.Entries[i].Item
		if string(u.Bank.V) != bank {
			continue
		}
		ends := u.Primary
		if end == 1 {
			ends = u.Secondary
		}
		if ends.Given {
			p |= ends.V.Conductors()
		}
	}
	return p &^ (quantity.PhaseN &^ bus)
}

// Units lists the single-phase transformers of a bank.
func (doc *Document) Units(bank string) []*Entry[SinglePhaseTransformer] {
	var list []*Entry[SinglePhaseTransformer]
	for i := range doc.SinglePhase.Entries {
		if e := &doc.SinglePhase.Entries[i]; string(e.Item.Bank.V) == bank {
			list = append(list, e)
		}
	}
	return list
}
