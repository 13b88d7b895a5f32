package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/spf13/cobra"

	"portside/captures"
	"portside/cmd/portside/report"
	"portside/cmd/portside/text"
	"portside/decode"
	"portside/decode/charger"
	"portside/decode/line"
	"portside/decode/probe"
	"portside/decode/rules"
	"portside/pd"
)

// chargerOptions are the flags of charger.
type chargerOptions struct {
	recordingFlags
	against  words
	readings words
	meterAt  choice
	accuracy accuracy
	failOn   choice
}

func newCharger(s *streams) *cobra.Command {
	o := &chargerOptions{}
	o.against.name, o.readings.name = "FILE", "NAME=VALUE"
	o.meterAt.of = meterPlaces
	o.failOn.of = []string{string(rules.Fault), string(rules.Warning)}
	cmd := &cobra.Command{
		Use:   "charger FILE...",
		Short: "holds a charger and its cable to the published standard",
		Long: `Holds a source (charger and cable) to the published standard, from the recording
of one plug-in: a meter log, a list of messages or both. What the recording
cannot show is not observed and never passed. A value fails only when it is
outside its limit by more than its uncertainty.`,
		Example: `  portside charger demo:sound-charging
  portside charger messages.csv meter.csv --shift meter=0
  portside charger --against demo:weak-charger demo:sound-charging
  portside charger --html charger.html demo:sound-charging
  portside charger --json --reading charger-label-w=65W messages.csv`,
		ValidArgsFunction: completeFiles,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usage("charger needs a FILE, or - for standard input; see portside charger --help")
			}
			return runCharger(cmd.Context(), s, o, args)
		},
	}
	o.add(cmd)
	o.html.add(cmd)
	f := cmd.Flags()
	f.Var(&o.against, "against", "a recording of a second charger, set beside the first; repeatable")
	f.Var(&o.readings, "reading", "charger-label-w=WATTS, as printed on the charger; repeatable")
	f.StringVar(&o.columns, "columns", "", "columns of a meter log: time=`NAME[:UNIT],...`, also voltage, current")
	addChoice(cmd, &o.meterAt, "meter-at", "the end of the cable the meter sits at; unknown if not given")
	f.Var(&o.accuracy, "meter-accuracy", "the meter's limits in percent of reading (default 1,1)")
	f.Var(&o.unpacked, "max-unpacked", "how much a packed file may unpack to (default 8GiB)")
	f.Var(&o.rate, "rate", "samples a second of a log without a time column")
	f.BoolVar(&o.noColor, "no-color", false, "no colour on a terminal")
	addChoice(cmd, &o.failOn, "fail-on", "exit with 4 if a check fails")
	return cmd
}

// chargerDocument is what --json prints: what was read and what it shows, and the
// same of a second charger; null without one.
type chargerDocument struct {
	*charger.Result
	Inputs  []decode.Input      `json:"inputs"`
	Clocks  []decode.InputClock `json:"clocks"`
	Against *chargerDocument    `json:"against"`

	tested *report.Tested
	about  report.About // with the files of this recording
}

func runCharger(ctx context.Context, s *streams, o *chargerOptions, args []string) error {
	readings, err := parseReadings(o.readings.values)
	if err != nil {
		return err
	}
	if err := o.html.check(append(slices.Clone(args), o.against.values...)); err != nil {
		return err
	}
	first, unread, err := o.check(ctx, s, args, label(readings))
	if err != nil {
		return err
	}
	if len(o.against.values) > 0 {
		against, unreadToo, err := o.check(ctx, s, o.against.values, 0)
		var bad *failure
		switch {
		case errors.As(err, &bad) && bad.status == exitInput:
			if !bad.told {
				bad.tell(s.err, o.json)
			}
			unread = true // the first charger is shown all the same
		case err != nil:
			return err
		default:
			first.Against, unread = against, unread || unreadToo
			first.tested.Page.Against = against.tested.Page
		}
	}
	if o.json {
		err = writeJSON(s.out, first)
	} else {
		err = text.Charger(s.out, first.tested.Page, s.look(o.noColor))
	}
	if err == nil {
		err = o.html.write(first.report)
	}
	switch {
	case err != nil:
		return fmt.Errorf("the result could not be written: %w", err)
	case unread:
		return &failure{status: exitInput, told: true}
	case o.failOn.value != "" && first.Count(charger.Fail) > 0:
		return &failure{status: exitFound, told: true}
	}
	return nil
}

// report writes the report of one charger, or of two.
func (d *chargerDocument) report(w io.Writer) error {
	if d.Against == nil {
		return report.Charger(w, d.tested, nil, d.about)
	}
	both := d.about
	both.Files = append(slices.Clone(both.Files), d.Against.about.Files...)
	return report.Charger(w, d.tested, d.Against.tested, both)
}

// label is the power printed on the charger; 0 where it was not given.
func label(readings []probe.Reading) pd.Milliwatts {
	for _, r := range readings {
		if r.Name == "charger-label-w" {
			return pd.Milliwatts(math.Round(r.Value * 1000))
		}
	}
	return 0
}

// check holds one recording to the standard; unread tells that one of its files could
// not be read.
func (o *chargerOptions) check(ctx context.Context, s *streams, files []string, labelled pd.Milliwatts) (d *chargerDocument, unread bool, err error) {
	var c *charger.Checker
	rec, err := openRecordingSeen(&o.recordingFlags, s, files, func(f *line.Frame) { c.Frame(f) })
	if err != nil {
		return nil, false, err
	}
	defer rec.close()
	others, err := findOtherMeters(ctx, o.recordingFlags, s, files, rec)
	if err == nil {
		err = others.refuse("charger", rec)
	}
	if err != nil {
		return nil, false, err
	}
	alignment, err := o.align(ctx, s, files, rec)
	if err != nil {
		return nil, false, err
	}
	c = charger.New(charger.Options{
		AccuracyV: o.accuracy.volts, AccuracyA: o.accuracy.amps,
		LabelPDP: labelled, AtSource: o.meterAt.value == "source", Clocks: rec.clocks(), Alignment: alignment,
	})
	beside := decode.NewEngine(decode.Options{AccuracyV: o.accuracy.volts, AccuracyA: o.accuracy.amps})
	take, shown := func(r captures.Record) { c.Take(r); beside.Take(r) }, (*chargerPicture)(nil)
	if o.html.path != "" {
		shown = newChargerPicture(alignment)
		take = func(r captures.Record) { c.Take(r); beside.Take(r); shown.take(r) }
	}
	if err := rec.each(ctx, take); err != nil {
		return nil, false, err
	}
	rec.tellSkipped(s)
	d = &chargerDocument{
		Result: c.Finish(), Inputs: decode.Inputs(rec.stats()), about: about(rec),
		Clocks: boundClocks(decode.InputClocks(rec.stats(), rec.clocks(), alignment), rec.clocks(), alignment),
	}
	if f, found := givesWay(beside.Diagnose(rec.stats(), rec.clocks())); found {
		d.Result.Summary += ". Beside the checks, " + f.Text + ": portside diagnose says what that means"
	}
	page := &text.ChargerPage{Result: d.Result, Clock: clockWords(alignment)}
	d.tested = shown.tested(page, rec.clocks(), alignment)
	return d, rec.unread, nil
}

// givesWay finds VBUS that broke down under load. No clause names the charger for
// it, since a contact or an overload may be the cause; nobody should call the
// charger sound without having read it.
func givesWay(d *decode.Diagnosis) (rules.Finding, bool) {
	for _, f := range d.Findings {
		if f.Rule == "vbus-collapse" && f.Severity == rules.Fault {
			return f, true
		}
	}
	return rules.Finding{}, false
}
