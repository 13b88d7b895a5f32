package delimited

import (
	"math/big"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// decimalForm is the grammar of a number.
var decimalForm = regexp.MustCompile(`^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$`)

// rational is the exact value of a number times ten to the shift; nil where
// its exponent is too large to be worth it.
func rational(text string, shift int) *big.Rat {
	mantissa, exponent, _ := strings.Cut(strings.ToLower(text), "e")
	e, err := strconv.Atoi(exponent)
	if exponent != "" && (err != nil || e > 1000 || e < -1000) {
		return nil
	}
	r, ok := new(big.Rat).SetString(strings.TrimPrefix(mantissa, "+"))
	if !ok {
		return nil
	}
	power := new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(max(e+shift, -e-shift))), nil))
	if e+shift < 0 {
		power.Inv(power)
	}
	return r.Mul(r, power)
}

// nanoseconds rounds a time in seconds, a half away from zero.
func nanoseconds(r *big.Rat) (time.Duration, bool) {
	ns := new(big.Rat).Mul(r, big.NewRat(1e9, 1))
	half := big.NewRat(int64(ns.Sign()), 2)
	ns.Add(ns, half)
	whole := new(big.Int).Quo(ns.Num(), ns.Denom())
	if !whole.IsInt64() || whole.CmpAbs(big.NewInt(int64(MaxTime))) > 0 {
		return 0, false
	}
	return time.Duration(whole.Int64()), true
}

// FuzzNumber compares with strconv and with exact arithmetic.
func FuzzNumber(f *testing.F) {
	for _, s := range []string{
		"5", "-0.1", "+.5e-3", "5.", "1e22", "1e23", "9007199254740993", "17.99999999999999999999", "1e-400",
		"123456789012345678901234567890e-20", "0x1p4", "1_0", "inf", "1e99999999999999999999", "1234567890.1234567895",
		"0.500000000000000166533453693773481063544750213623046875",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, ok := ParseFloat([]byte(text), false, 0)
		require.Equal(t, decimalForm.MatchString(text), ok)
		if !ok {
			return
		}
		want, _ := strconv.ParseFloat(text, 64)
		require.Equal(t, want, got+0) // the sign of a zero is of no interest
		comma, ok := ParseFloat([]byte(strings.ReplaceAll(text, ".", ",")), true, 0)
		require.True(t, ok)
		require.Equal(t, got, comma)

		exact := rational(text, -3)
		if exact == nil {
			return
		}
		milli, _ := exact.Float64()
		got, _ = ParseFloat([]byte(text), false, -3)
		require.Equal(t, milli, got+0)
		d, _ := ParseDecimal([]byte(text), false)
		at, fits := d.Duration(-3, false)
		wantAt, wantFits := nanoseconds(exact)
		require.Equal(t, wantFits, fits)
		require.Equal(t, wantAt, at)
	})
}

// stampForm is the grammar of RFC 3339, section 5.6; looseStamp allows what its
// notes allow.
var (
	stampForm  = regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:[0-5]\d(\.\d+)?(Z|[+-]([01]\d|2[0-3]):[0-5]\d)$`)
	looseStamp = regexp.MustCompile(`^\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d:([0-5]\d|60)(\.\d+)?([Zz]|[+-]([01]\d|2[0-3]):[0-5]\d)$`)
)

// FuzzClock compares clock times and stamps with the library.
func FuzzClock(f *testing.F) {
	for _, s := range []string{"00:00:00", "9:05:01.5", "23:59:59.999999999", "24:00:00", "10:0:00", "2024-02-29T10:00:00Z", "2024-02-29t10:00:00.5+01:00", "2024-02-29 10:00:00", "1990-12-31T23:59:60Z"} {
		f.Add(s, int64(0))
	}
	f.Add("00:00:01", int64(day-1))
	f.Add("23:59:59", int64(day+1))
	f.Fuzz(func(t *testing.T, text string, last int64) {
		cell := []byte(text)
		if got, ok := timeOfDay(cell, false); ok && !strings.Contains(text, ":60") {
			want, err := time.Parse("15:04:05", text)
			require.NoError(t, err)
			if _, fraction, _ := strings.Cut(text, "."); len(fraction) <= 9 { // the library cuts what we round
				require.Equal(t, want.Sub(time.Date(0, 1, 1, 0, 0, 0, 0, time.UTC)), got)
				checkDay(t, cell, time.Duration(last), got)
			}
		} else if _, err := time.Parse("15:04:05", text); err == nil && !strings.Contains(text, ",") {
			require.True(t, ok || strings.Contains(text, ":60"), "refused %q", text)
		}
		at, ok := parseStamp(cell, false, false)
		var want time.Time
		if err := want.UnmarshalText(cell); len(text) <= stampMost && stampForm.MatchString(text) {
			require.Equal(t, err == nil, ok)
			require.True(t, err != nil || want.Equal(at))
		} else {
			require.False(t, ok && !looseStamp.MatchString(text))
		}
		if _, local := parseStamp(cell, false, true); local {
			require.False(t, ok, "a stamp has an offset or none")
		}
	})
}

// checkDay: a clock time lies within a day of the row before, on its own time
// of day.
func checkDay(t *testing.T, cell []byte, last, ofDay time.Duration) {
	t.Helper()
	if last < 0 || last > MaxTime-2*day {
		return
	}
	var r Clock
	at, ok := r.clock(cell, last)
	require.True(t, ok)
	require.Equal(t, ofDay, at%day)
	require.Greater(t, at-last, -day)
	require.Less(t, at-last, day)
}
