package line_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/line"
)

// layoutOf reads a plain header of the tests: time_s, time_us, cc, cc1, cc2,
// cc_v, vbus, ibus.
func layoutOf(header string, delimiter byte) line.Layout {
	cells := strings.Split(header, string(delimiter))
	l := line.Layout{Delimiter: delimiter, Comma: delimiter != ',', Cells: len(cells), Line: 1}
	for i, name := range cells {
		column := line.Column{Name: name, Index: i}
		switch name {
		case "time_s":
			l.Time = &column
		case "time_us":
			column.Shift = -6
			l.Time = &column
		case "cc", "cc1", "cc2":
			l.CC = append(l.CC, column)
		case "cc_v":
			column.Unit = true
			l.CC = append(l.CC, column)
		case "cc_mv":
			column.Unit, column.Shift = true, -3
			l.CC = append(l.CC, column)
		case "vbus":
			l.VBUS = &column
		case "ibus":
			l.IBUS = &column
		}
	}
	return l
}

const day = 24 * time.Hour

func TestCSV(t *testing.T) {
	tests := []struct {
		name, header, rows string
		delimiter          byte
		events             []line.Event
		skipped, notes     int
	}{
		{name: "levels", header: "time_s,cc", rows: "0,0\n0.000001,1\n0.000003500,0\n", events: []line.Event{low(0, 0), high(1*us, 0), low(3500, 0), over(3500)}},
		{name: "volts", header: "time_s,cc", rows: "0,0\n1e-6,0.41\n.000002,+1.1\n", events: []line.Event{volts(0, 0, 0), volts(1*us, 0, 0.41), volts(2*us, 0, 1.1), over(2 * us)}},
		{name: "volts by the heading", header: "time_s,cc_v", rows: "0,0\n1,1\n", events: []line.Event{volts(0, 0, 0), volts(time.Second, 0, 1), over(time.Second)}},
		{name: "millivolts", header: "time_us,cc_mv", rows: "0.5,410\n", events: []line.Event{volts(500, 0, 0.41), over(500)}},
		{name: "two lines and a meter", header: "time_s,cc1,cc2,vbus,ibus", rows: "0,1,0.2,5.1,\n", events: []line.Event{high(0, 0), volts(0, 1, 0.2), volts(0, 2, 5.1), volts(0, 3, math.NaN()), over(0)}},
		{name: "semicolons and decimal commas", header: "time_s;cc", delimiter: ';', rows: "0,5;0,41\r\n0,6;1,1\r\n", events: []line.Event{volts(500*time.Millisecond, 0, 0.41), volts(600*time.Millisecond, 0, 1.1), over(600 * time.Millisecond)}},
		{name: "a gap", header: "time_s,cc", rows: "0,1\n1,\n2,0", events: []line.Event{high(0, 0), unknown(time.Second, 0), low(2*time.Second, 0), over(2 * time.Second)}},
		{name: "comments, blanks, quotes, closing delimiter", header: "time_s,cc", rows: "# by hand\n\n \" 1 \" , 0 ,\n", events: []line.Event{low(time.Second, 0), over(time.Second)}},
		{name: "damaged rows", header: "time_s,cc", rows: "0,1\n1\n1,2,3\n1:00,0\nx,1\n2,nan\n3,0x1\n4,0", events: []line.Event{high(0, 0), low(4*time.Second, 0), over(4 * time.Second)}, skipped: 6},
		{name: "time going backwards", header: "time_s,cc", rows: "1,1\n0.5,0\n1,0\n", events: []line.Event{high(time.Second, 0), low(time.Second, 0), over(time.Second)}, skipped: 1},
		{name: "times before zero", header: "time_s,cc", rows: "-1e-6,1\n-0.0000005,0\n", events: []line.Event{high(-us, 0), low(-500, 0), over(-500)}},
		{name: "a time out of range", header: "time_s,cc", rows: "1,1\n1e12,0\n9999999999999,0\n", events: []line.Event{high(time.Second, 0), over(time.Second)}, skipped: 2},
		{name: "clock times, past midnight", header: "time_s,cc", rows: "23:59:59.9999995,1\n00:00:00,0\n0:00:00.000001,1\n", events: []line.Event{high(day-500, 0), low(day, 0), high(day+us, 0), over(day + us)}},
		{name: "clock times with a decimal comma", header: "time_s;cc", delimiter: ';', rows: "10:00:00,5;1\n", events: []line.Event{high(10*time.Hour+500*time.Millisecond, 0), over(10*time.Hour + 500*time.Millisecond)}},
		{name: "stamps count from the first row", header: "time_s,cc", rows: "2024-02-29T10:00:00.5Z,1\n2024-02-29T10:00:00.500001Z,0\n2024-02-29T11:00:00.500002+01:00,1\n", events: []line.Event{high(0, 0), low(us, 0), high(2*us, 0), over(2 * us)}},
		{name: "stamps without an offset are told", header: "time_s,cc", rows: "2024-02-29 10:00:00,1\n2024-02-29 10:00:01,0\n", events: []line.Event{high(0, 0), low(time.Second, 0), over(time.Second)}, notes: 1},
		{name: "one file has one form", header: "time_s,cc", rows: "10:00:00,1\n36001,1\n10:00:02,0\n2024-02-29T10:00:03Z,0\n", events: []line.Event{high(10*time.Hour, 0), low(10*time.Hour+2*time.Second, 0), over(10*time.Hour + 2*time.Second)}, skipped: 2},
		{name: "a damaged row does not settle the form", header: "time_s,cc", rows: "12,x\n10:00:00,1\n", events: []line.Event{high(10*time.Hour, 0), over(10 * time.Hour)}, skipped: 1},
		{name: "a clock time that goes back is no midnight", header: "time_s,cc", rows: "10:00:00,1\n09:00:00,0\n10:00:01,0\n", events: []line.Event{high(10*time.Hour, 0), low(10*time.Hour+time.Second, 0), over(10*time.Hour + time.Second)}, skipped: 1},
		{name: "many digits", header: "time_s,cc", rows: "1.00000000000000000000000000000001,0.4100000000000000000000\n", events: []line.Event{volts(time.Second, 0, 0.41), over(time.Second)}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if tt.delimiter == 0 {
				tt.delimiter = ','
			}
			c, err := line.NewCSV(strings.NewReader(tt.rows), layoutOf(tt.header, tt.delimiter), line.Options{})
			require.NoError(t, err)
			events := all(t, c)
			require.Len(t, events, len(tt.events))
			for i, e := range tt.events {
				if math.IsNaN(e.Value) {
					assert.True(t, math.IsNaN(events[i].Value), "a gap of the meter")
					e.Value, events[i].Value = 0, 0
				}
				assert.Equal(t, e, events[i])
			}
			assert.Equal(t, tt.skipped, c.Stats().Skipped, c.Stats().Problems)
			assert.Len(t, c.Stats().Notes, tt.notes)
		})
	}
}

func TestCSVWithoutTimes(t *testing.T) {
	c, err := line.NewCSV(strings.NewReader("0\n1\nq\n0\n"), layoutOf("cc", ','), line.Options{RateHz: 1e6})
	require.NoError(t, err)
	assert.Equal(t, []line.Event{low(0, 0), high(1*us, 0), low(3*us, 0), over(3 * us)}, all(t, c), "a row that cannot be read still takes its time")

	_, err = line.NewCSV(strings.NewReader("0\n"), layoutOf("cc", ','), line.Options{})
	assert.EqualError(t, err, "line 1: expected a time column, found none; give the rows a second with --rate HZ")
	_, err = line.NewCSV(strings.NewReader("0\n"), layoutOf("time_s,volts", ','), line.Options{})
	assert.EqualError(t, err, "line 1: expected a column named cc, cc1 or cc2, found none")
}

// TestLevelsThatTurnVolts has 0 and 1 only in all of the part that is looked at first.
func TestLevelsThatTurnVolts(t *testing.T) {
	rows := strings.Repeat("1,0\n", 100_000) + "2,0.41\n3,1\n"
	c, err := line.NewCSV(&stutter{text: rows}, layoutOf("time_s,cc", ','), line.Options{})
	require.NoError(t, err)
	events := all(t, c)
	require.Len(t, events, 100_003)
	assert.Equal(t, []line.Event{low(time.Second, 0), volts(2*time.Second, 0, 0.41), volts(3*time.Second, 0, 1), over(3 * time.Second)}, events[99_999:])
	assert.Equal(t, []string{`the column "cc" holds volts from line 100002 on, only 0 and 1 before`}, c.Stats().Notes)
}

func TestRowsTooLong(t *testing.T) {
	rows := "1,0\n" + strings.Repeat("9", 1<<20) + "\n2,1\n" + strings.Repeat("8", 1<<20)
	c, err := line.NewCSV(strings.NewReader(rows), layoutOf("time_s,cc", ','), line.Options{})
	require.NoError(t, err)
	assert.Equal(t, []line.Event{low(time.Second, 0), high(2*time.Second, 0), over(2 * time.Second)}, all(t, c))
	assert.Equal(t, 2, c.Stats().Skipped)
	assert.Equal(t, 3, c.Stats().Problems[0].Line)
}

// A row that is too long is so wherever it lies in what was read at once.
func TestRowTooLongInTheBuffer(t *testing.T) {
	layout := layoutOf("time_s,cc"+strings.Repeat(",x", 50_000), ',')
	c, err := line.NewCSV(strings.NewReader("1,0"+strings.Repeat(",5", 50_000)+"\n"), layout, line.Options{})
	require.NoError(t, err)
	assert.Len(t, all(t, c), 1)
	assert.Equal(t, 1, c.Stats().Skipped)
}
