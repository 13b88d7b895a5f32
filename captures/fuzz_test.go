package captures

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"math/big"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"portside/pd"
)

// checkInput reads an input to its end and holds what must be true of any.
func checkInput(t *testing.T, b []byte, o Options) (got contents, ok bool) {
	t.Helper()
	o.MaxUnpacked = 1 << 20
	in, err := Open("f", bytes.NewReader(b), o)
	if err != nil {
		var unusable *UnusableError
		require.ErrorAs(t, err, &unusable)
		require.NotEmpty(t, unusable.Expected)
		require.NotEmpty(t, unusable.Found)
		return got, false
	}
	got = readAll(t, in)
	s := got.stats
	require.Equal(t, s.Records, len(got.samples)+len(got.messages))
	require.LessOrEqual(t, len(s.Problems), MaxProblems)
	last := time.Duration(-MaxTime)
	for _, x := range got.samples {
		require.GreaterOrEqual(t, x.At, last)
		require.LessOrEqual(t, x.At, time.Duration(MaxTime))
		require.False(t, math.Abs(x.Volts) > maxReading || math.Abs(x.Amps) > maxReading)
		last = x.At
	}
	for _, x := range got.messages {
		require.GreaterOrEqual(t, x.At, last)
		require.True(t, x.Marker != NoMarker || x.Set.IsReset() || len(x.Bytes) >= 2)
		last = x.At
	}
	_, err = in.Next()
	require.Equal(t, io.EOF, err)
	return got, true
}

// checkPieces: how the bytes come in changes nothing.
func checkPieces(t *testing.T, b []byte, o Options, want contents) {
	t.Helper()
	o.MaxUnpacked = 1 << 20
	in, err := Open("f", slowReader{bytes.NewReader(b)}, o)
	require.NoError(t, err)
	got := readAll(t, in)
	require.Equal(t, want.stats, got.stats)
	require.Equal(t, want.messages, got.messages)
	requireSamples(t, want.samples, got.samples)
}

// FuzzOpen: no input may crash a reader, lose count, or go back in time, and
// how its bytes come in changes nothing.
func FuzzOpen(f *testing.F) {
	log := []byte("time,voltage,current\n0,5,1\n")
	f.Add([]byte("time,voltage,current\n0,5.1,0.01\n0.5,,1\n"))
	f.Add([]byte("time;voltage;current\nms;mV;mA\n0;5,1;\"0\"\n"))
	f.Add([]byte("time_s,sop,bytes,end_s,crc\n0.5,SOP,4100,0.6,BB6CBBA8\n1,Hard_Reset,,,\n"))
	f.Add([]byte("a log\ntimestamp|vbus|ibus|cc1|\n2024-02-29T00:00:00Z|1|2|3|\n"))
	f.Add([]byte("time,voltage,current,note\n23:59:59.5,5,1,\"x\n00:00:00,5,1,\n"))
	f.Add(gzipped(f, log))
	f.Add(zstded(f, log))
	f.Add(utf16Bytes(string(log), true, true))
	f.Add(utf16Bytes(string(log), false, false))
	f.Add(gzipped(f, bytes.Repeat([]byte{'\n'}, 1<<16)))
	f.Add([]byte{0x1f, 0x8b, 8, 0})
	f.Add([]byte{0xFF, 0xFE, 0x00})
	f.Fuzz(func(t *testing.T, b []byte) {
		if got, ok := checkInput(t, b, Options{}); ok && len(b) < 4096 {
			checkPieces(t, b, Options{}, got)
		}
	})
}

// FuzzColumns: what is read can be written and read again.
func FuzzColumns(f *testing.F) {
	f.Add("time=t:s,voltage=U:mV,current=I:mA")
	f.Add("current=a,b:c:µA,time==:ns")
	f.Add("voltage= x ,TIME=voltage=y")
	f.Fuzz(func(t *testing.T, text string) {
		spec, err := ParseColumns(text)
		if err != nil {
			require.ErrorIs(t, err, ErrColumns)
			return
		}
		var parts []string
		for key, c := range map[string]Column{"time": spec.Time, "voltage": spec.Voltage, "current": spec.Current} {
			switch {
			case c == Column{}:
			case c.Unit == "":
				require.NotContains(t, c.Name, ":")
				parts = append(parts, key+"="+c.Name)
			default:
				parts = append(parts, key+"="+c.Name+":"+c.Unit)
			}
		}
		again, err := ParseColumns(strings.Join(parts, ","))
		require.NoError(t, err)
		require.Equal(t, spec, again)
	})
}

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

// FuzzShift: whatever is stated, no sum overflows, the order holds, and each
// record lies at its own time and the difference of the shifts.
func FuzzShift(f *testing.F) {
	f.Add(int64(0), int64(0), int64(0), int64(0), true, true)
	f.Add(int64(MaxTime), int64(-MaxTime), int64(MaxTime), int64(-MaxTime), true, true)
	f.Add(int64(math.MaxInt64), int64(math.MinInt64), int64(5), int64(7), true, false)
	f.Fuzz(func(t *testing.T, shift, base, sample, message int64, hasShift, hasBase bool) {
		inputs := openAll(t, []string{
			fmt.Sprintf("time (ns),voltage,current\n%d,5,1\n", sample),
			fmt.Sprintf("time_s,sop,bytes\n%de-9,SOP,4100\n", message),
		}, []float64{nan, nan})
		offset := new(big.Int)
		if hasShift {
			by := time.Duration(shift)
			inputs[0].Shift = &by
			offset.Add(offset, big.NewInt(shift))
		}
		if hasBase {
			by := time.Duration(base)
			inputs[1].Shift = &by
			offset.Sub(offset, big.NewInt(base))
		}
		within := func(ns int64) bool { return ns >= int64(-MaxTime) && ns <= int64(MaxTime) }
		r := NewRecording(inputs)
		last := time.Duration(math.MinInt64)
		seen := 0
		for {
			record, err := r.Next()
			if err != nil {
				if hasShift && !within(shift) || hasBase && !within(base) {
					require.ErrorIs(t, err, ErrShift)
					return
				}
				require.Equal(t, io.EOF, err)
				break
			}
			require.GreaterOrEqual(t, record.At(), last)
			last = record.At()
			want := big.NewInt(message)
			if record.Sample != nil {
				want = new(big.Int).Add(offset, big.NewInt(sample))
			}
			require.Equal(t, want.String(), big.NewInt(int64(last)).String())
			seen++
		}
		want := 0
		for _, ns := range []int64{sample, message} {
			if within(ns) {
				want++
			}
		}
		require.Equal(t, want, seen)
	})
}

// referenceRows reads rows of time, voltage and current with encoding/csv,
// strconv and exact arithmetic. It knows neither quotes nor clock times.
func referenceRows(t *testing.T, rows string, comma rune, times, amps unit) (out []Sample, skipped []int) {
	t.Helper()
	begun, last := false, time.Duration(0)
	for i, line := range strings.Split(strings.TrimSuffix(rows, "\n"), "\n") {
		text := strings.Trim(line, " \t\r")
		if text == "" && (comma != '\t' || !strings.Contains(line, "\t")) || strings.HasPrefix(text, "#") {
			continue
		}
		s, ok := referenceRow(t, strings.TrimSuffix(line, "\r"), comma, times, amps)
		if !ok || begun && s.At < last {
			skipped = append(skipped, i+2)
			continue
		}
		begun, last = true, s.At
		out = append(out, s)
	}
	return out, skipped
}

func referenceRow(t *testing.T, line string, comma rune, times, amps unit) (s Sample, ok bool) {
	t.Helper()
	r := csv.NewReader(strings.NewReader(line))
	r.Comma, r.LazyQuotes = comma, true
	cells, err := r.Read()
	if err != nil {
		require.Equal(t, io.EOF, err)
		return s, false
	}
	for i, c := range cells {
		cells[i] = strings.Trim(c, " \t\r")
		if comma != ',' {
			cells[i] = strings.Replace(cells[i], ",", ".", 1)
		}
	}
	if len(cells) == 4 && cells[3] == "" {
		cells = cells[:3]
	}
	if len(cells) != 3 || !decimalForm.MatchString(cells[0]) {
		return s, false
	}
	s = plain(0, nan, nan)
	if s.At, ok = referenceTime(cells[0], times); !ok {
		return s, false
	}
	for i, to := range []*float64{&s.Volts, &s.Amps} {
		if *to, ok = referenceReading(cells[1+i], []int{0, amps.shift}[i]); !ok {
			return s, false
		}
	}
	return s, true
}

func referenceTime(cell string, u unit) (time.Duration, bool) {
	exact := rational(cell, u.shift)
	if exact == nil {
		f, err := strconv.ParseFloat(cell, 64)
		return 0, err == nil && f == 0
	}
	if u.minutes {
		exact.Mul(exact, big.NewRat(60, 1))
	}
	return nanoseconds(exact)
}

func referenceReading(cell string, shift int) (float64, bool) {
	if cell == "" {
		return nan, true
	}
	if !decimalForm.MatchString(cell) {
		return 0, false
	}
	v, err := strconv.ParseFloat(cell, 64)
	if exact := rational(cell, shift); exact != nil {
		v, _ = exact.Float64()
	} else if err != nil {
		return 0, false
	}
	return v, math.Abs(v) <= maxReading
}

// longNumber may have more digits than are kept.
var longNumber = regexp.MustCompile(`[0-9.,]{20}`)

// FuzzMeterRows: the quick way, the general way and a slow reference give the
// same records and name the same lines.
func FuzzMeterRows(f *testing.F) {
	f.Add("0,5,1\n1,5.25,-1\n", uint8(0))
	f.Add("1;;\n2;1e3;,5\n3;5,;5\n", uint8(1))
	f.Add("0\t1\t2\t\n\t\t\n 1\t1\t2\n", uint8(2+4*3))
	f.Add("1,5,1,7\n1,5,1,,\n1,5\n", uint8(0))
	f.Add("1,\"5\",1\r\n#x\n 2, 5, 1\n\"3\n,5,1\n", uint8(4))
	f.Add("00:00:01,1,2,\n00:00:00,1,2,,\n", uint8(0))
	f.Add("2838240000,17.999999999999999999,0.30000000000000004\n", uint8(0))
	f.Add("47304000|1|1\n0.00000000000000000000000000000000001|1|1\n", uint8(3+4*4))
	f.Fuzz(func(t *testing.T, rows string, form uint8) {
		delimiter := delimiters[form%4]
		timeUnit := []string{"s", "ms", "us", "ns", "min"}[form/4%5]
		ampsUnit := []string{"A", "mA", "uA"}[form/20%3]
		head := strings.Join([]string{"time_" + timeUnit, "voltage", "current_" + ampsUnit}, string(delimiter)) + "\n"
		o := Options{As: KindMeter}
		quick, ok := checkInput(t, []byte(head+rows), o)
		if !ok {
			return
		}
		in, err := Open("f", strings.NewReader(head+rows), o)
		require.NoError(t, err)
		in.source.(*meterSource).plain = false
		general := readAll(t, in)
		require.Equal(t, general.stats, quick.stats)
		requireSamples(t, general.samples, quick.samples)
		for i := range general.samples {
			require.Equal(t, general.samples[i].Line, quick.samples[i].Line)
		}

		switch {
		case strings.ContainsAny(rows, "\":"): // quotes, clock times and stamps
			return
		case strings.ContainsAny(rows, "SsVvAa"): // a units row, or another header
			return
		case timeUnit == "min" && longNumber.MatchString(rows): // digits beyond the nineteenth are dropped
			return
		}
		samples, skipped := referenceRows(t, rows, rune(delimiter), units[timeUnit], units[strings.ToLower(ampsUnit)])
		requireSamples(t, samples, quick.samples)
		require.Equal(t, len(skipped), quick.stats.Skipped)
		for i, line := range quick.lines() {
			require.Equal(t, skipped[i], line)
		}
	})
}

// FuzzMessages has a sound header, so that every input reaches the rows; what
// is kept is what the row says.
func FuzzMessages(f *testing.F) {
	f.Add("0,SOP,4100,,,,\n1,Hard_Reset,,,,,\n")
	f.Add("0.5,SOP',a1 41,0.6,00000000,discarded,sink\n")
	f.Add("0,Attach,,,,,\n0,VBUS_On,00,,,,\n-1,SOP,8,,,,\n")
	f.Add("1,SOP,\"41\n00\",,,,\n1,SOP''_Debug,C101,x,BB6CBBA8,unacknowledged,source\n")
	f.Fuzz(func(t *testing.T, rows string) {
		text := "time_s,sop,bytes,end_s,crc,status,by\n" + rows
		o := Options{As: KindMessages}
		got, ok := checkInput(t, []byte(text), o)
		require.True(t, ok)
		for _, m := range got.messages {
			switch {
			case m.Marker != NoMarker:
				require.Empty(t, m.Bytes)
				require.Equal(t, m.Marker, markerOf(m.Marker.String()))
			case m.Set.IsReset():
				require.Empty(t, m.Bytes)
			default:
				_, err := pd.ParseMessage(m.Set, m.Bytes)
				require.False(t, errors.Is(err, pd.ErrNoHeader))
			}
			require.False(t, m.HasEnd && m.End < m.At)
		}
		if !strings.Contains(rows, "\"") {
			require.Equal(t, dataRows(rows), got.stats.Records+got.stats.Skipped)
		}
		if len(rows) < 4096 {
			checkPieces(t, []byte(text), o, got)
		}
	})
}

// dataRows counts the lines that are neither blank nor a comment.
func dataRows(text string) int {
	n := 0
	for line := range strings.SplitSeq(text, "\n") {
		if line = strings.Trim(line, " \t\r"); line != "" && line[0] != '#' {
			n++
		}
	}
	return n
}
