package pd_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// kernelNumbers are the constants of the vectors that are no times of the standard.
var kernelNumbers = map[string]int{
	"PD_T_VCONN_STABLE":  50,    // the headers' own wait
	"PD_MAX_REV":         2,     // the code of R3 in the header, table 6.1
	"PDO_MAX_OBJECTS":    7,     // three bits of the header, table 6.1
	"RDO_OBJ_POS_MASK":   7,     // of R3.0, three bits
	"RDO_PROG_VOLT_MASK": 0x7FF, // of R3.0, 11 bits; R3.2 has 12, table 6.25
}

// The constants of the vectors lie where the standard has them, as those of the installed
// headers do, with the same exceptions.
func TestKernelConstantVectors(t *testing.T) {
	var file struct {
		Constants []struct {
			Name   string
			Value  int
			Source string
		} `json:"kernel_constants"`
	}
	readVectors(t, "standard_vectors.json", &file)
	require.Len(t, file.Constants, 29)
	for _, c := range file.Constants {
		if n, ok := kernelNumbers[c.Name]; ok {
			assert.Equal(t, n, c.Value, c.Name)
			continue
		}
		i := slices.IndexFunc(kernelTimes, func(k kernelTime) bool { return k.name == c.Name })
		require.GreaterOrEqual(t, i, 0, "nothing asserts %s", c.Name)
		k := kernelTimes[i]
		assert.Equal(t, k.differs == "", withinLimits(k, c.Value), "%s = %d: %s", c.Name, c.Value, c.Source)
	}
}

// withinLimits holds a value in ms, or a plain one, against the standard's limits.
func withinLimits(k kernelTime, value int) bool {
	l := k.parameter.Limits(k.revision)
	const milli = 1000
	v := float64(value)
	if l.Unit != "" {
		v /= milli
	}
	least, most := l.MinSI(), l.MaxSI()
	if l.Nom.Given && !l.Min.Given && !l.Max.Given {
		least, most = l.NomSI(), l.NomSI()
	}
	return !(v < least) && !(v > most) // a limit not given is NaN
}
