package series_test

import (
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// nile reads the flow of the Nile, 1871 to 1970: Cobb 1978, Biometrika 65,
// table 1; the data set Nile of R.
func nile(t *testing.T) []float64 {
	t.Helper()
	text, err := os.ReadFile("testdata/nile.txt")
	require.NoError(t, err)
	var out []float64
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		for word := range strings.FieldsSeq(line) {
			x, err := strconv.ParseFloat(word, 64)
			require.NoError(t, err)
			out = append(out, x)
		}
	}
	require.Len(t, out, 100)
	return out
}
