package rules

import (
	"fmt"
	"math"

	"portside/pd"
)

// offV is the highest voltage that still counts as off.
func offV() float64 { return pd.SafeWindow0V().Max }

// seconds, volts and amps print a figure with no more digits than a bench
// meter shows.
func seconds(s float64) string {
	if s != 0 && math.Abs(s) < 0.1 {
		return fmt.Sprintf("%.1f ms", s*1000)
	}
	return fmt.Sprintf("%.2f s", s)
}

func volts(v float64) string {
	if math.Abs(v) < 0.005 { // a meter's zero is a little below it as often
		v = 0
	}
	return fmt.Sprintf("%.2f V", v)
}

func amps(a float64) string {
	if math.Abs(a) < 0.1 {
		return fmt.Sprintf("%.0f mA", math.Round(a*1000)+0) // no minus before a zero
	}
	return fmt.Sprintf("%.2f A", a)
}
