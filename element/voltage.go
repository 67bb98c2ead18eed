package element

import (
	"fmt"
	"math"
	"math/cmplx"

	"feederwright/curve"
)

// A Voltage element: 27, 59, 59N, 47.
type Voltage struct {
	Name      string
	Measures  VoltageQuantity
	Under     bool    // operates below the pickup, else above it
	All       bool    // of several voltages all must be beyond the pickup; else one is enough
	Pickup    float64 // V
	Timing    curve.Setting
	Tolerance curve.Tolerance
	// Block, of an under-voltage element: below this it doesn't operate (a dead line). 0: none.
	Block float64
}

// A VoltageQuantity is what a voltage element measures.
type VoltageQuantity int

const (
	PhaseVoltages    VoltageQuantity = iota // to earth
	LineVoltages                            // between phases
	ResidualVolts                           // 3V0
	NegativeVolts                           // V2
	PositiveSequence                        // V1
)

var voltageQuantities = [...]string{"phase-to-earth voltages", "line-to-line voltages", "residual voltage", "negative-sequence voltage", "positive-sequence voltage"}

func (q VoltageQuantity) String() string { return voltageQuantities[q] }

// of lists what it measures, in V.
func (q VoltageQuantity) of(s Sight) ([]float64, error) {
	v := s.Voltages
	sizes := func(z [3]complex128) []float64 { return []float64{cmplx.Abs(z[0]), cmplx.Abs(z[1]), cmplx.Abs(z[2])} }
	switch q {
	case PhaseVoltages:
		if v.HasPhase {
			return sizes(v.Phase), nil
		}
	case LineVoltages:
		if v.HasLine {
			return sizes(v.Line), nil
		}
	case ResidualVolts:
		if v.HasSum {
			return []float64{cmplx.Abs(v.Residual)}, nil
		}
	case NegativeVolts:
		if v2, ok := v.Negative(s.Rotation); ok {
			return []float64{cmplx.Abs(v2)}, nil
		}
	case PositiveSequence:
		if v.HasPhase {
			_, v1, _ := s.Rotation.Sequence(v.Phase)
			return []float64{cmplx.Abs(v1)}, nil
		}
		if v.HasLine {
			_, v1, _ := s.Rotation.Sequence(v.Line)
			return []float64{cmplx.Abs(v1) / math.Sqrt(3)}, nil
		}
	}
	return nil, Missing{voltageQuantities[q]}
}

// Operate tells what the element does with a steady sight. Its multiple is beyond 1 on the side on which it operates:
// an inverse under-voltage curve runs on pickup over value.
func (e Voltage) Operate(s Sight) (Outcome, error) {
	o := Outcome{Pickup: e.Pickup, Seconds: math.Inf(1), Earliest: math.Inf(1), Latest: math.Inf(1), Angle: math.NaN()}
	list, err := e.Measures.of(s)
	if err != nil {
		return o, fmt.Errorf("%s: %w", e.Name, err)
	}
	// The deciding voltage: the one furthest beyond the pickup, or the one least so where all must be.
	largest := e.Under == e.All
	o.Value = list[0]
	for _, v := range list[1:] {
		if (v > o.Value) == largest {
			o.Value = v
		}
	}
	if e.Under && e.Block > 0 && o.Value < e.Block {
		o.Why = "it is blocked: the voltage is below that of a dead line"
		return o, nil
	}
	o.Multiple = o.Value / e.Pickup
	if e.Under {
		o.Multiple = e.Pickup / o.Value
	}
	o.Seconds = e.Timing.Time(o.Multiple)
	o.Earliest = e.Timing.Earliest(o.Multiple, e.Tolerance)
	o.Latest = e.Timing.Latest(o.Multiple, e.Tolerance)
	if math.IsInf(o.Seconds, 1) {
		o.Why = fmt.Sprintf("the %v is %.3g of the pickup", e.Measures, o.Value/e.Pickup)
	}
	return o, nil
}
