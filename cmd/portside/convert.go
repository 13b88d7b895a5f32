package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"portside/captures"
	"portside/cmd/portside/text"
	"portside/decode"
	"portside/decode/clocks"
)

const convertSchema = "portside/convert/1"

type convertFlags struct {
	recordingFlags
	force bool
}

func newConvert(s *streams) *cobra.Command {
	o := &convertFlags{}
	cmd := &cobra.Command{
		Use:   "convert IN... OUT",
		Short: "writes recordings in another file format",
		Long: `Writes recordings in another file format. The ending of OUT chooses it:

  .csv      a meter log or a list of messages, whichever IN holds
  .pcapng   a packet file, which holds both on one clock

Several IN become one recording on one clock, in the order of time: the meter's
log and the list of messages of one plug-in in one file to keep or to pass on.
How a meter's clock lies to that of the messages, or of the first file, is found
from the voltage steps that both saw, and told; where they do not settle it the
clock is taken as it stands. --shift says by how much one starts later and goes
before what is found.
Times, ordered sets, bytes and CRCs come through unchanged in both directions.
What the other format has no place for, such as a note of the moment of plugging
in, is told and counted on standard error, and so are damaged rows, which are
left out.

An existing OUT is replaced only with --force, an IN never. IN may be - for
standard input, or demo:NAME. portside help formats describes the formats.`,
		Example: `  portside convert messages.csv messages.pcapng
  portside convert meter.csv messages.csv --shift meter=1.25 job.pcapng
  portside convert --as messages job.pcapng cc.csv
  portside convert line.vcd heard.csv
  portside convert demo:sound-boot boot.pcapng`,
		ValidArgsFunction: completeFiles,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) < 2 {
				return usage("convert needs one IN or more and an OUT, such as: portside convert messages.csv messages.pcapng")
			}
			return convert(cmd.Context(), s, o, args[:len(args)-1], args[len(args)-1])
		},
	}
	o.add(cmd)
	f := cmd.Flags()
	f.StringVar(&o.columns, "columns", "", "columns of a meter log: time=`NAME[:UNIT],...`, also voltage, current")
	f.Var(&o.rate, "rate", "samples a second of a log without a time column")
	f.Var(&o.unpacked, "max-unpacked", "how much a packed file may unpack to (default 8GiB)")
	f.BoolVar(&o.force, "force", false, "replace OUT where it exists")
	return cmd
}

// convert reads all inputs into OUT. OUT appears only once it is whole.
func convert(ctx context.Context, s *streams, o *convertFlags, args []string, out string) error {
	format, err := formatOf(out)
	if err != nil {
		return err
	}
	if err := mayWrite(out, args, s, o.force); err != nil {
		return err
	}
	rec, err := openRecording(&o.recordingFlags, s, args)
	if err != nil {
		return err
	}
	defer rec.close()
	c := &conversion{out: out, format: format, inputs: rec.timeline.Inputs()}
	if err := c.refuseBoth(); err != nil {
		return err
	}
	if c.found, err = o.align(ctx, s, args, rec); err != nil {
		return err
	}
	file, err := createOutput(out)
	if err != nil {
		return err
	}
	defer file.discard()
	c.dst = file
	if err := c.copy(ctx, rec); err != nil {
		return err
	}
	if err := file.keep(); err != nil {
		return err
	}
	return c.report(s, o, rec)
}

// conversion writes the records of a recording to OUT.
type conversion struct {
	out    string
	format string
	inputs []*captures.Input
	found  map[int]clocks.Alignment // of each input on a clock of its own
	dst    io.Writer
	writer captures.Writer // nil before the first record
}

const (
	formatCSV    = ".csv"
	formatPcapng = ".pcapng"
)

// formatOf takes the ending of OUT.
func formatOf(out string) (string, error) {
	switch ending := strings.ToLower(filepath.Ext(out)); ending {
	case formatCSV, formatPcapng:
		return ending, nil
	case "":
		return "", usage("OUT comes last and its ending chooses the format, .csv or .pcapng; %q has none", out)
	default:
		hint := ""
		if near := nearest(ending, []string{formatCSV, formatPcapng}); near != "" {
			hint = "; did you mean " + near + "?"
		}
		return "", usage("OUT comes last and ends in .csv or .pcapng; %q ends in %s%s", out, ending, hint)
	}
}

// refuseBoth finds early what a CSV cannot hold. A packet file may still turn
// out to hold both.
func (c *conversion) refuseBoth() error {
	meter, messages := false, false
	for _, in := range c.inputs {
		meter = meter || in.Kind() == captures.KindMeter
		messages = messages || in.Kind() == captures.KindMessages
	}
	if c.format == formatCSV && meter && messages {
		return c.bothKinds()
	}
	return nil
}

func (c *conversion) bothKinds() error {
	return usage("a .csv holds a meter log or messages, and the inputs hold both; end OUT in .pcapng, or choose one kind with --as meter or --as messages")
}

// copy writes every record between --from and --to.
func (c *conversion) copy(ctx context.Context, rec *recording) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var failed error
	err := rec.each(ctx, func(r captures.Record) {
		if failed != nil {
			return
		}
		if failed = c.write(r); failed != nil {
			stop()
		}
	})
	if failed == nil && err == nil {
		failed = c.writer.Close()
	}
	switch {
	case errors.Is(failed, captures.ErrBothKinds):
		return c.bothKinds()
	case failed != nil:
		return notWritten(c.out, failed)
	default:
		return err
	}
}

// write begins the format with the first record: whether a packet file holds
// messages or samples is not known before.
func (c *conversion) write(r captures.Record) (err error) {
	if c.writer == nil {
		if c.writer, err = c.begin(r); err != nil {
			return err
		}
	}
	at := 0
	if r.Sample != nil {
		at = r.Sample.Input
	} else {
		at = r.Message.Input
	}
	return c.writer.Write(r, c.inputs[at])
}

func (c *conversion) begin(first captures.Record) (captures.Writer, error) {
	switch {
	case c.format == formatPcapng:
		return captures.NewPacketWriter(c.dst, c.inputs)
	case first.Sample != nil:
		cc := false
		for _, in := range c.inputs {
			cc = cc || in.HasCCLevels()
		}
		return captures.NewMeterWriter(c.dst, cc)
	default:
		var extras captures.MessageExtras
		for _, in := range c.inputs {
			extras = extras.With(in.MessageExtras())
		}
		return captures.NewMessageWriter(c.dst, extras)
	}
}

// report tells what did not come through.
func (c *conversion) report(s *streams, o *convertFlags, rec *recording) error {
	written := c.writer.Written()
	var err error
	if o.json {
		err = writeJSON(s.out, c.document(written, rec))
	} else {
		_, err = fmt.Fprintf(s.out, "%s: %s, %s\n", text.Safe(c.out), counted(written.Messages, "message"), counted(written.Samples, "meter sample"))
	}
	if err != nil {
		return err
	}
	if !o.json && !o.quiet {
		c.warn(s.err, written, rec)
	}
	rec.tellSkipped(s)
	if rec.unread {
		return &failure{status: exitInput, told: true}
	}
	return nil
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func (c *conversion) warn(w io.Writer, written captures.Written, rec *recording) {
	tell := func(format string, args ...any) {
		// A warning that cannot be told has no other place to go.
		_, _ = fmt.Fprintln(w, "portside: "+text.Safe(fmt.Sprintf(format, args...)))
	}
	if len(written.Dropped) > 0 {
		var parts []string
		for _, d := range written.Dropped {
			parts = append(parts, fmt.Sprintf("%s (%d)", d.What, d.Count))
		}
		tell("%s: dropped, since the format has no place for it: %s", c.out, strings.Join(parts, ", "))
	}
	for _, in := range c.inputs {
		if names := in.UnreadColumns(); len(names) > 0 {
			tell("%s: columns left out: %s", in.Stats().Path, strings.Join(names, ", "))
		}
	}
	for i, clock := range rec.clocks() {
		if a, loose := c.found[i]; loose {
			tell("%s", tellClock(clock.Path, a))
		}
	}
}

// convertDocument is what convert --json prints.
type convertDocument struct {
	Schema   string           `json:"schema"`
	Out      string           `json:"out"`
	Messages int              `json:"messages"`
	Samples  int              `json:"samples"`
	Dropped  []convertDropped `json:"dropped"`
	Inputs   []convertInput   `json:"inputs"`
}

type convertDropped struct {
	What  string `json:"what"`
	Count int    `json:"count"`
}

type convertInput struct {
	Path    string   `json:"path"`
	Kind    string   `json:"kind"`
	Records int      `json:"records"`
	Skipped int      `json:"skipped"`
	Columns []string `json:"columns_left_out"`
	OffsetS *float64 `json:"offset_s"` // added to its times; null: taken as they stand

	UncertaintyS *float64         `json:"uncertainty_s"` // standard uncertainty of it, 0 where it was stated
	RatePPM      *float64         `json:"rate_ppm"`      // null where the data do not tell it
	Method       string           `json:"method"`
	Matched      []decode.Matched `json:"matched"` // the events that determine it

	RateUncertaintyPPM *float64 `json:"rate_uncertainty_ppm"`
}

func (c *conversion) document(written captures.Written, rec *recording) convertDocument {
	doc := convertDocument{
		Schema: convertSchema, Out: c.out, Messages: written.Messages, Samples: written.Samples,
		Dropped: []convertDropped{}, Inputs: []convertInput{},
	}
	for _, d := range written.Dropped {
		doc.Dropped = append(doc.Dropped, convertDropped(d))
	}
	lies := rec.clocks()
	for i, in := range c.inputs {
		st := in.Stats()
		x := convertInput{
			Path: st.Path, Kind: st.Kind.String(), Records: st.Records, Skipped: st.Skipped,
			Columns: append([]string{}, in.UnreadColumns()...),
		}
		clock := decode.InputClockOf(lies[i], c.found[i])
		x.OffsetS, x.UncertaintyS, x.RatePPM, x.Method = clock.OffsetS, clock.UncertaintyS, clock.RatePPM, clock.Method
		x.RateUncertaintyPPM = clock.RateUncertaintyPPM
		x.Matched = decode.MatchedOf(c.found[i])
		doc.Inputs = append(doc.Inputs, x)
	}
	return doc
}
