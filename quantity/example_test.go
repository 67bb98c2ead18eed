package quantity_test

import (
	"errors"
	"fmt"

	"feederwright/quantity"
)

func Example() {
	var z quantity.SeriesImpedance
	if err := z.UnmarshalText([]byte("0.3061 + j0.6270 ohm/mi")); err != nil {
		fmt.Println(err)
	}
	fmt.Println(z, quantity.TypedUnit("0.3061 + j0.6270 ohm/mi"))

	var i quantity.Current
	err := i.UnmarshalText([]byte("9.2 MVA"))
	var e *quantity.Error
	if errors.As(err, &e) {
		fmt.Println(e.Problem)
		fmt.Println(e.Fix)
	}
	// Output:
	// 0.1902017219438 + j0.3895997375328 ohm/km ohm/mi
	// 9.2 MVA is a power; a current is wanted here
	// write a current such as 450 A or 9.2 kA
}
