package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
)

// choice is a flag with a fixed set of values.
type choice struct {
	value string
	of    []string
}

func (c *choice) String() string { return c.value }
func (c *choice) Type() string   { return strings.Join(c.of, "|") }

func (c *choice) Set(s string) error {
	for _, v := range c.of {
		if v == s {
			c.value = s
			return nil
		}
	}
	hint := ""
	if near := nearest(s, c.of); near != "" {
		hint = fmt.Sprintf("; did you mean %s?", near)
	}
	return errors.New("expected " + strings.Join(c.of, " or ") + hint)
}

// addChoice adds a choice with its completion.
func addChoice(cmd *cobra.Command, c *choice, name, help string) {
	cmd.Flags().Var(c, name, help)
	// It fails only for a flag that does not exist.
	_ = cmd.RegisterFlagCompletionFunc(name, cobra.FixedCompletions(c.of, cobra.ShellCompDirectiveNoFileComp))
}

// moment is a time on the recording's clock in seconds; ms and us may be said.
type moment struct {
	at  time.Duration
	set bool
}

func (m *moment) Type() string { return "S" }

func (m *moment) String() string {
	if !m.set {
		return ""
	}
	return m.at.String()
}

func (m *moment) Set(s string) (err error) {
	m.at, err = parseSeconds(s)
	m.set = err == nil
	return err
}

// timeUnits are tried in order: the longer endings first.
var timeUnits = [...]struct {
	name string
	of   time.Duration
}{{"ms", time.Millisecond}, {"us", time.Microsecond}, {"ns", time.Nanosecond}, {"s", time.Second}, {"", time.Second}}

func parseSeconds(s string) (time.Duration, error) {
	for _, u := range timeUnits {
		head, ok := strings.CutSuffix(s, u.name)
		if !ok {
			continue
		}
		v, err := decimal(head)
		if err != nil || math.Abs(v*float64(u.of)) > float64(math.MaxInt64)/2 {
			break
		}
		return time.Duration(math.Round(v * float64(u.of))), nil
	}
	return 0, errors.New("expected seconds, such as 1.5, 1.5s or 200ms")
}

// decimal reads a plain number: no hexadecimal, no infinity, no underscores.
func decimal(s string) (float64, error) {
	if s == "" || strings.Trim(s, "0123456789.+-eE") != "" {
		return 0, strconv.ErrSyntax
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return 0, err
	}
	return v, nil
}

// accuracy is the meter's limits in percent of reading, nil where not given.
type accuracy struct{ volts, amps *float64 }

func (a *accuracy) Type() string { return "V,A" }

func (a *accuracy) String() string {
	if a.volts == nil || a.amps == nil {
		return ""
	}
	return fmt.Sprintf("%g,%g", *a.volts, *a.amps)
}

func (a *accuracy) Set(s string) error {
	v, c, ok := strings.Cut(s, ",")
	volts, err1 := decimal(strings.TrimSuffix(strings.TrimSpace(v), "%"))
	amps, err2 := decimal(strings.TrimSuffix(strings.TrimSpace(c), "%"))
	if !ok || err1 != nil || err2 != nil || volts < 0 || amps < 0 || volts > 100 || amps > 100 {
		return errors.New("expected two limits in percent of reading, such as 0.5,1 or 0.5%,1%")
	}
	a.volts, a.amps = &volts, &amps
	return nil
}

// size is a number of bytes with a unit.
type size struct{ bytes int64 }

func (z *size) Type() string { return "SIZE" }

func (z *size) String() string {
	if z.bytes == 0 {
		return ""
	}
	return strconv.FormatInt(z.bytes, 10)
}

var sizeUnits = [...]struct {
	name string
	of   float64
}{{"KiB", 1 << 10}, {"MiB", 1 << 20}, {"GiB", 1 << 30}, {"kB", 1e3}, {"MB", 1e6}, {"GB", 1e9}, {"B", 1}, {"", 1}}

func (z *size) Set(s string) error {
	for _, u := range sizeUnits {
		head, ok := strings.CutSuffix(s, u.name)
		if !ok {
			continue
		}
		v, err := decimal(strings.TrimSpace(head))
		if err != nil || v*u.of < 1 || v*u.of > math.MaxInt64/2 {
			break
		}
		z.bytes = int64(v * u.of)
		return nil
	}
	return errors.New("expected a size, such as 500MB or 8GiB")
}

// frequency is a rate in hertz.
type frequency struct{ hz float64 }

func (f *frequency) Type() string { return "HZ" }

func (f *frequency) String() string {
	if f.hz == 0 {
		return ""
	}
	return strconv.FormatFloat(f.hz, 'g', -1, 64)
}

func (f *frequency) Set(s string) error {
	factor := 1.0
	head := strings.TrimSuffix(s, "Hz")
	if k, ok := strings.CutSuffix(head, "k"); ok && head != s {
		head, factor = k, 1000
	}
	v, err := decimal(head)
	if err != nil || v <= 0 {
		return errors.New("expected samples a second, such as 10 or 1kHz")
	}
	f.hz = v * factor
	return nil
}

// words is a repeatable flag that keeps each value as it was given; unlike
// the library's lists it does not split at commas.
type words struct {
	values []string
	name   string
}

func (w *words) Type() string   { return w.name }
func (w *words) String() string { return "" }

func (w *words) Set(s string) error {
	w.values = append(w.values, s)
	return nil
}

// kinds are what --as takes.
var kinds = []string{"meter", "messages", "pcapng", "line"}

// meterPlaces are the ends of the cable that a meter sits at.
var meterPlaces = []string{"source", "device"}

// recordingFlags say how files are read; commands that read files share them.
type recordingFlags struct {
	as       choice
	columns  string
	shift    words
	from, to moment
	unpacked size
	rate     frequency
	signal   string
	html     reportFile
	quiet    bool
	json     bool
	noColor  bool
}

func (r *recordingFlags) add(cmd *cobra.Command) {
	r.shift.name = "KIND|N=SECONDS"
	f := cmd.Flags()
	f.BoolVar(&r.json, "json", false, "print JSON")
	f.BoolVarP(&r.quiet, "quiet", "q", false, "nothing on standard error but errors")
	r.as.of = kinds
	addChoice(cmd, &r.as, "as", "take every input as this kind")
	f.Var(&r.shift, "shift", "add seconds to the times of a kind (meter, messages, pcapng, line) or of the N-th file; repeatable")
	f.StringVar(&r.signal, "signal", "", "the CC line of a logic capture: its `NAME`, with scopes where that is not enough")
	f.Var(&r.from, "from", "use the recording from this second on")
	f.Var(&r.to, "to", "use the recording up to this second")
	f.SortFlags = false
}
