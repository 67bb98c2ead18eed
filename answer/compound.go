package answer

import (
	"fmt"
	"strings"

	"feederwright/fault"
)

// CompoundParts reads --kind, and --at where the kind has no place of its own.
// It returns the case that the places are in.
func CompoundParts(c *fault.Case, kind, at string, ohm float64) (*fault.Case, []fault.Part, error) {
	text := kind
	switch {
	case !strings.Contains(text, "@") && at == "":
		return nil, nil, fmt.Errorf("--kind %s needs a place: --at LINE/40%%, --at BRANCH/BUS for the end of a branch, or --at DEVICE", kind)
	case !strings.Contains(text, "@"):
		text += "@" + at
	case at != "":
		return nil, nil, fmt.Errorf("--kind %s has its places; leave --at out", kind)
	}
	c, parts, err := c.ParseParts(text)
	if err != nil {
		return nil, nil, err
	}
	for i := range parts {
		parts[i].Resistance = ohm
	}
	return c, parts, nil
}

// UnprovenPart is the datum that an earth fault among the parts lacks, or "".
func UnprovenPart(c *fault.Case, parts []fault.Part) string {
	for _, p := range parts {
		place := p.Place
		if p.Break != fault.NoBreak && p.Terminal >= 0 {
			place = fault.AtBus(c.Net.Elements[p.Element].Terminals[p.Terminal].Bus)
		}
		earth := p.Break == fault.OpenFromEarthed || p.Break == fault.OpenToEarthed || p.Break == fault.NoBreak && p.Kind.Type.NeedsZero()
		if why := c.UnprovenEarth(place); earth && why != "" {
			return why
		}
	}
	return ""
}
