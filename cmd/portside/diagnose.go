package main

import (
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"portside/cmd/portside/report"
	"portside/cmd/portside/text"
	"portside/decode"
	"portside/decode/line"
	"portside/decode/probe"
	"portside/decode/rules"
)

// diagnoseOptions are the flags of diagnose.
type diagnoseOptions struct {
	recordingFlags
	readings words
	meterAt  choice
	accuracy accuracy
	failOn   choice
}

func newDiagnose(s *streams) *cobra.Command {
	o := &diagnoseOptions{}
	o.readings.name = "NAME=VALUE"
	o.meterAt.of = meterPlaces
	o.failOn.of = []string{string(rules.Fault), string(rules.Warning)}
	cmd := &cobra.Command{
		Use:   "diagnose FILE...",
		Short: "says where the fault is, why, and what to measure next",
		Long: `Says on which side of the port the fault is, why, how sure that is, and what to
measure next. Several files are one recording: a meter log, a list of messages
or both. FILE may be - for standard input, or demo:NAME. What you measured goes
in with --reading, also without any file.`,
		Example: `  portside diagnose demo:hard-short-main-rail
  portside diagnose meter.csv messages.csv
  portside diagnose meter.csv --reading main-rail-ohm=0.8ohm
  portside diagnose --reading display-v=5.1V --reading display-a=20mA
  portside diagnose --json --fail-on fault meter.csv`,
		ValidArgsFunction: completeFiles,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 && len(o.readings.values) == 0 {
				return usage("diagnose needs a FILE, - for standard input, or a --reading; see portside diagnose --help")
			}
			return diagnose(cmd, s, o, args)
		},
	}
	o.add(cmd)
	o.html.add(cmd)
	f := cmd.Flags()
	f.StringVar(&o.columns, "columns", "", "columns of a meter log: time=`NAME[:UNIT],...`, also voltage, current")
	f.Var(&o.readings, "reading", "a bench measurement (portside help readings); repeatable")
	_ = cmd.RegisterFlagCompletionFunc("reading", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return readingNames(), cobra.ShellCompDirectiveNoSpace | cobra.ShellCompDirectiveNoFileComp
	})
	addChoice(cmd, &o.meterAt, "meter-at", "the end of the cable the meter sits at; unknown if not given")
	f.Var(&o.accuracy, "meter-accuracy", "the meter's limits in percent of reading (default 1,1)")
	f.Var(&o.unpacked, "max-unpacked", "how much a packed file may unpack to (default 8GiB)")
	f.Var(&o.rate, "rate", "samples a second of a log without a time column")
	f.BoolVar(&o.noColor, "no-color", false, "no colour on a terminal")
	addChoice(cmd, &o.failOn, "fail-on", "exit with 4 if a finding is this grave")
	return cmd
}

// diagnose is the main job: read, weigh, print.
func diagnose(cmd *cobra.Command, s *streams, o *diagnoseOptions, args []string) error {
	readings, err := parseReadings(o.readings.values)
	if err != nil {
		return err
	}
	if err := o.html.check(args); err != nil {
		return err
	}
	engine := decode.NewEngine(decode.Options{
		Readings: readings, MeterAt: o.meterAt.value,
		AccuracyV: o.accuracy.volts, AccuracyA: o.accuracy.amps,
	})
	var shown telling
	var seen func(*line.Frame)
	if o.html.path != "" {
		seen = shown.take
	}
	rec, err := openRecordingSeen(&o.recordingFlags, s, args, seen)
	if err != nil {
		return err
	}
	defer rec.close()
	others, err := findOtherMeters(cmd.Context(), o.recordingFlags, s, args, rec)
	if err != nil {
		return err
	}
	if err := rec.each(cmd.Context(), others.without(engine.Take)); err != nil {
		return err
	}
	rec.tellSkipped(s)
	engine.Line(rec.health())
	d := engine.Diagnose(rec.stats(), others.clocks(rec))
	others.tell(d, rec)
	if o.json {
		err = writeJSON(s.out, d)
	} else {
		err = text.Diagnosis(s.out, d, text.Options{Look: s.look(o.noColor), Command: again(o, args)})
	}
	if err == nil {
		err = o.html.write(func(w io.Writer) error {
			seen := report.Recorded{Diagnosis: withBaseNames(d), Talk: rec.talk, Frame: shown.view(rec.health())}
			return report.Diagnosis(w, seen, again(o, baseNames(args)), about(rec))
		})
	}
	switch {
	case err != nil:
		return fmt.Errorf("the result could not be written: %w", err)
	case rec.unread:
		return &failure{status: exitInput, told: true}
	case found(d, rules.Severity(o.failOn.value)):
		return &failure{status: exitFound, told: true}
	default:
		return nil
	}
}

// parseReadings reads the bench measurements.
func parseReadings(given []string) ([]probe.Reading, error) {
	out, err := probe.ParseReadings(given)
	if err != nil {
		return nil, usage("--reading: %s", err)
	}
	return out, nil
}

func readingNames() []string {
	var names []string
	for _, r := range probe.Readings() {
		names = append(names, r.Name+"=")
	}
	return names
}

// found reports a finding of the severity that --fail-on names, or a graver
// one.
func found(d *decode.Diagnosis, at rules.Severity) bool {
	return slices.ContainsFunc(d.Findings, func(f rules.Finding) bool {
		switch at {
		case rules.Fault:
			return f.Severity == rules.Fault
		case rules.Warning:
			return f.Severity == rules.Fault || f.Severity == rules.Warning
		default:
			return false
		}
	})
}

// again is the command line that a further reading is added to.
func again(o *diagnoseOptions, args []string) string {
	words := append([]string{"diagnose"}, args...)
	for _, r := range o.readings.values {
		words = append(words, "--reading", r)
	}
	for _, x := range o.shift.values {
		words = append(words, "--shift", x)
	}
	if o.meterAt.value != "" {
		words = append(words, "--meter-at", o.meterAt.value)
	}
	if o.accuracy.volts != nil {
		words = append(words, "--meter-accuracy", o.accuracy.String())
	}
	if o.as.value != "" {
		words = append(words, "--as", o.as.value)
	}
	if o.rate.hz > 0 {
		words = append(words, "--rate", o.rate.String())
	}
	if o.columns != "" {
		words = append(words, "--columns", o.columns)
	}
	if o.signal != "" {
		words = append(words, "--signal", o.signal)
	}
	for _, m := range []struct {
		name string
		of   moment
	}{{"--from", o.from}, {"--to", o.to}} {
		if m.of.set {
			words = append(words, m.name, seconds(m.of.at))
		}
	}
	return commandLine(words)
}
