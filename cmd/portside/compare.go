package main

import (
	"context"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"portside/cmd/portside/report"
	"portside/cmd/portside/text"
	"portside/decode"
	"portside/decode/compare"
	"portside/decode/rules"
)

// compareOptions are the flags of compare.
type compareOptions struct {
	recordingFlags
	before, after                 words
	beforeReadings, afterReadings words
	meterAt                       choice
	accuracy                      accuracy
	failOn                        choice
}

func newCompare(s *streams) *cobra.Command {
	o := &compareOptions{}
	o.before.name, o.after.name = "FILE", "FILE"
	o.beforeReadings.name, o.afterReadings.name = "NAME=VALUE", "NAME=VALUE"
	o.meterAt.of = meterPlaces
	o.failOn.of = []string{string(rules.Fault), string(rules.Warning)}
	cmd := &cobra.Command{
		Use:   "compare BEFORE AFTER",
		Short: "proves a repair: recordings from before and after it",
		Long: `Sets a recording from before a repair beside one from after it, phase by phase,
and says whether the repair is proven. Also a unit beside one known to be good.
Record both with the same charger, cable and meter, and let each go on for some
seconds after the contract. Where a side has several files, name them with
--before and --after.`,
		Example: `  portside compare before.csv after.csv
  portside compare --before before.csv --before before-pd.csv \
      --after after.csv --after after-pd.csv
  portside compare --before-reading main-rail-ohm=0.4ohm \
      --after-reading main-rail-ohm=3.2kohm before.csv after.csv
  portside compare demo:hard-short-main-rail demo:sound-charging`,
		ValidArgsFunction: completeFiles,
		RunE: func(cmd *cobra.Command, args []string) error {
			before, after, err := o.sides(args)
			if err != nil {
				return err
			}
			return runCompare(cmd.Context(), s, o, before, after)
		},
	}
	o.add(cmd)
	o.html.add(cmd)
	f := cmd.Flags()
	f.Var(&o.before, "before", "a file of the recording from before; repeatable")
	f.Var(&o.after, "after", "a file of the recording from after; repeatable")
	f.Var(&o.beforeReadings, "before-reading", "a bench measurement from before (portside help readings); repeatable")
	f.Var(&o.afterReadings, "after-reading", "a bench measurement from after; repeatable")
	f.StringVar(&o.columns, "columns", "", "columns of a meter log: time=`NAME[:UNIT],...`, also voltage, current")
	addChoice(cmd, &o.meterAt, "meter-at", "the end of the cable the meter sits at; unknown if not given")
	f.Var(&o.accuracy, "meter-accuracy", "the meter's limits in percent of reading (default 1,1)")
	f.Var(&o.unpacked, "max-unpacked", "how much a packed file may unpack to (default 8GiB)")
	f.Var(&o.rate, "rate", "samples a second of a log without a time column")
	f.BoolVar(&o.noColor, "no-color", false, "no colour on a terminal")
	addChoice(cmd, &o.failOn, "fail-on", "exit with 4 if the recording from after has a finding this grave")
	return cmd
}

// sides are the files of the two recordings: two operands, or those named by
// --before and --after.
func (o *compareOptions) sides(args []string) (before, after []string, err error) {
	named := len(o.before.values) + len(o.after.values)
	switch {
	case named == 0 && len(args) == 2:
		return args[:1], args[1:], nil
	case named == 0:
		return nil, nil, usage("compare needs two files, BEFORE and AFTER, found %d; for several files a side name each with --before and --after", len(args))
	case len(args) > 0:
		return nil, nil, usage("name every file with --before or --after, or give just two operands; found the operand %q beside them", args[0])
	case len(o.before.values) == 0:
		return nil, nil, usage("there is no recording from before; name its files with --before")
	case len(o.after.values) == 0:
		return nil, nil, usage("there is no recording from after; name its files with --after")
	}
	return o.before.values, o.after.values, nil
}

func runCompare(ctx context.Context, s *streams, o *compareOptions, before, after []string) error {
	if err := o.html.check(slices.Concat(before, after)); err != nil {
		return err
	}
	b, first, err := o.side(ctx, s, before, o.beforeReadings.values)
	if err != nil {
		return err
	}
	a, second, err := o.side(ctx, s, after, o.afterReadings.values)
	if err != nil {
		return err
	}
	c := compare.Compare(b, a)
	if o.json {
		err = writeJSON(s.out, c)
	} else {
		err = text.Comparison(s.out, c, b.Diagnosis, a.Diagnosis, s.look(o.noColor))
	}
	if err == nil {
		err = o.html.write(func(w io.Writer) error {
			before := report.Recorded{Diagnosis: withBaseNames(b.Diagnosis), Talk: first.talk}
			after := report.Recorded{Diagnosis: withBaseNames(a.Diagnosis), Talk: second.talk}
			return report.Comparison(w, c, before, after, about(first, second))
		})
	}
	switch {
	case err != nil:
		return fmt.Errorf("the result could not be written: %w", err)
	case first.unread || second.unread:
		return &failure{status: exitInput, told: true}
	case found(a.Diagnosis, rules.Severity(o.failOn.value)):
		return &failure{status: exitFound, told: true}
	}
	return nil
}

// side diagnoses one of the two recordings.
func (o *compareOptions) side(ctx context.Context, s *streams, files, given []string) (side compare.Recording, rec *recording, err error) {
	readings, err := parseReadings(given)
	if err != nil {
		return side, nil, err
	}
	engine := decode.NewEngine(decode.Options{
		Readings: readings, MeterAt: o.meterAt.value,
		AccuracyV: o.accuracy.volts, AccuracyA: o.accuracy.amps,
	})
	rec, err = openRecording(&o.recordingFlags, s, files)
	if err != nil {
		return side, nil, err
	}
	defer rec.close()
	others, err := findOtherMeters(ctx, o.recordingFlags, s, files, rec)
	if err != nil {
		return side, nil, err
	}
	if err := rec.each(ctx, others.without(engine.Take)); err != nil {
		return side, nil, err
	}
	rec.tellSkipped(s)
	d := engine.Diagnose(rec.stats(), others.clocks(rec))
	others.tell(d, rec)
	side = compare.Recording{Diagnosis: d, Readings: readings, AccuracyV: o.accuracy.volts, AccuracyA: o.accuracy.amps}
	return side, rec, nil
}
