package main

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"portside/captures/bench"
	"portside/cmd/portside/text"
)

const simulationSchema = "portside/simulation/1"

type simulateFlags struct {
	out     string
	seed    uint64
	set     []string
	list    bool
	json    bool
	force   bool
	quiet   bool
	noColor bool
}

func newSimulate(s *streams) *cobra.Command {
	o := &simulateFlags{}
	cmd := &cobra.Command{
		Use:   "simulate SCENARIO --out DIR",
		Short: "writes recordings of a simulated bench, with the truth beside",
		Long: `Writes recordings of a simulated bench: a source, a cable and a device, sound
or faulty, with a meter between them. DIR then holds

  meter.csv      what the meter logged
  messages.csv   what the message recorder logged
  line.vcd       the CC line itself, as a logic recorder sees it
  truth.json     the answer: location, part and every parameter

Each SCENARIO is a family: charger, cable, machine, fault and meter are drawn
from stated ranges. --seed N chooses which; the same seed gives the same bytes.
--set fixes a parameter: --set short-ohm=0.2 --set meter-hz=100. Where the end
of a name is its own, the end will do. A fault that --set adds or takes away
changes the answer in truth.json with it. The answer is never shown here.

Some recorders that are drawn show no GoodCRC (messages-no-ack); the line always
carries it. Without a message recorder (--set messages-recorded=false) there is
a meter.csv only. Files that stand in DIR are replaced only with --force.`,
		Example: `  portside simulate --list
  portside simulate --list hard-short-main-rail
  portside simulate hard-short-main-rail --out case --seed 7
  portside simulate sound-charging --out exercise --set short-ohm=0.2
  portside diagnose case/meter.csv case/messages.csv`,
		Args: operands(cobra.MaximumNArgs(1)),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return familyNames(), cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(_ *cobra.Command, args []string) error {
			if o.list {
				return listFamilies(s, o, args)
			}
			if len(args) == 0 {
				return usage("simulate needs a SCENARIO; portside simulate --list names them")
			}
			return simulate(s, o, args[0])
		},
	}
	f := cmd.Flags()
	f.SortFlags = false
	f.StringVar(&o.out, "out", "", "folder to write to, `DIR`; made where it does not exist")
	f.Uint64Var(&o.seed, "seed", 1, "which bench of the family, `N`")
	f.StringArrayVar(&o.set, "set", nil, "fix a parameter: `NAME=VALUE`; repeatable")
	f.BoolVar(&o.list, "list", false, "list the scenarios, or one with all its parameters")
	f.BoolVar(&o.json, "json", false, "print JSON")
	f.BoolVar(&o.force, "force", false, "replace files that stand in DIR")
	f.BoolVar(&o.quiet, "quiet", false, "standard error only for errors")
	f.BoolVar(&o.noColor, "no-color", false, "no colour on a terminal")
	return cmd
}

func familyNames() []string {
	var names []string
	for _, f := range bench.Families() {
		names = append(names, f.Name)
	}
	return names
}

// findFamily gives the family of a name, or an error with the nearest one.
func findFamily(name string) (bench.Family, error) {
	if f, ok := bench.FindFamily(name); ok {
		return f, nil
	}
	if near := nearest(name, familyNames()); near != "" {
		return bench.Family{}, usage("there is no scenario %q; did you mean %s?", name, near)
	}
	return bench.Family{}, usage("there is no scenario %q; portside simulate --list names them", name)
}

// simulatedFile is one file of a simulated bench.
type simulatedFile struct {
	name    string
	write   func(io.Writer) error
	wanted  bool // the bench has a recorder for it
	present bool // it stands in the folder already
}

func simulate(s *streams, o *simulateFlags, name string) error {
	family, err := findFamily(name)
	if err != nil {
		return err
	}
	scenario, err := o.drawn(family)
	if err != nil {
		return err
	}
	if o.out == "" {
		return usage("simulate needs a folder to write to: portside simulate %s --out DIR", name)
	}
	var run *bench.Run
	files := []simulatedFile{
		{name: "meter.csv", write: func(w io.Writer) error { return run.WriteMeterCSV(w) }, wanted: true},
		{name: "messages.csv", write: func(w io.Writer) error { return run.WriteMessagesCSV(w) }, wanted: scenario.Parameters.MessagesRecorded},
		{name: "line.vcd", write: func(w io.Writer) error { return run.WriteLineVCD(w) }, wanted: scenario.Parameters.MessagesRecorded},
		{name: "truth.json", write: func(w io.Writer) error { return run.WriteTruth(w) }, wanted: true},
	}
	if err := mayFill(o.out, files, o.force); err != nil {
		return err
	}
	if run, err = bench.Simulate(scenario, o.seed); err != nil {
		if errors.Is(err, bench.ErrSolver) {
			return usage("these values give a bench that cannot be solved: %s", err)
		}
		return err
	}
	if err := fill(o.out, files); err != nil {
		return err
	}
	return reportSimulation(s, o, run, files)
}

// drawn is the family's bench of the seed, with what --set fixes. The message
// recorder runs unless it is switched off: its list belongs to every case.
func (o *simulateFlags) drawn(family bench.Family) (bench.Scenario, error) {
	scenario := family.Draw(o.seed)
	scenario.Parameters.MessagesRecorded = true
	if len(o.set) == 0 {
		return scenario, nil
	}
	err := scenario.Change(func(p *bench.Parameters) error {
		for _, word := range o.set {
			if err := setParameter(p, word); err != nil {
				return err
			}
		}
		return nil
	})
	if errors.Is(err, bench.ErrTwoSides) {
		return scenario, usage("%s; a case has one answer: start from another scenario", err)
	}
	return scenario, err
}

// setParameter takes one NAME=VALUE.
func setParameter(p *bench.Parameters, word string) error {
	name, value, ok := strings.Cut(word, "=")
	if !ok || name == "" || value == "" {
		return usage("--set %q: expected NAME=VALUE, such as short-ohm=0.2", word)
	}
	full, ok := bench.FullName(name)
	if !ok {
		if ends := endingIn(name); len(ends) > 1 {
			return usage("--set %s: several parameters end so: %s", name, strings.Join(ends, ", "))
		}
		if near := nearestParameter(dashed(name)); near != "" {
			return usage("there is no parameter %q; did you mean %s?", name, near)
		}
		return usage("there is no parameter %q; portside simulate --list SCENARIO names them", name)
	}
	value = strings.TrimSpace(strings.TrimSuffix(value, bench.Unit(full)))
	if err := p.Set(full, value); err != nil {
		return usage("--set %s: %s", word, strings.TrimPrefix(err.Error(), bench.ErrParameter.Error()+": "))
	}
	return nil
}

func dashed(name string) string { return strings.ReplaceAll(strings.ToLower(name), "_", "-") }

// nearestParameter is the parameter whose name, or the end of it, a typo most
// likely meant.
func nearestParameter(typed string) string {
	var ends, of []string
	for _, n := range parameterNames() {
		for end := n; end != ""; _, end, _ = strings.Cut(end, "-") {
			ends, of = append(ends, end), append(of, n)
		}
	}
	if near := nearest(typed, ends); near != "" {
		return of[slices.Index(ends, near)]
	}
	return ""
}

// parameterNames are the names as a command line has them.
func parameterNames() []string {
	var names []string
	for _, n := range bench.Names() {
		names = append(names, dashed(n))
	}
	return names
}

func endingIn(name string) []string {
	var out []string
	for _, n := range parameterNames() {
		if strings.HasSuffix(n, "-"+dashed(name)) {
			out = append(out, n)
		}
	}
	return out
}

// mayFill looks whether the files may be written: over others only with force.
func mayFill(dir string, files []simulatedFile, force bool) error {
	if there, err := os.Stat(dir); err == nil && !there.IsDir() {
		return usage("--out %s is a file; name a folder", dir)
	}
	for i := range files {
		name := filepath.Join(dir, files[i].name)
		there, err := os.Lstat(name)
		files[i].present = err == nil
		switch {
		case err != nil:
		case there.IsDir():
			return usage("%s is a folder; name another --out", name)
		case !force:
			return usage("%s exists already; name another --out, or replace it with --force", name)
		}
	}
	return nil
}

// fill writes the files. One that this bench does not have and that stood
// there belongs to another case and goes away.
func fill(dir string, files []simulatedFile) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return notWritten(dir, err)
	}
	for _, f := range files {
		name := filepath.Join(dir, f.name)
		if !f.wanted {
			if f.present {
				if err := os.Remove(name); err != nil {
					return notWritten(name, err)
				}
			}
			continue
		}
		if err := fillOne(name, f.write); err != nil {
			return err
		}
	}
	return nil
}

func fillOne(name string, write func(io.Writer) error) error {
	file, err := createOutput(name)
	if err != nil {
		return err
	}
	defer file.discard()
	if err := write(file); err != nil {
		return notWritten(name, err)
	}
	return file.keep()
}

// simulationDocument is what simulate --json prints. It keeps the answer to
// itself, so that a case can be set on the screen it is solved at.
type simulationDocument struct {
	Schema   string   `json:"schema"`
	Scenario string   `json:"scenario"`
	Seed     uint64   `json:"seed"`
	Files    []string `json:"files"`
	Rows     int      `json:"meter_rows"`
	Messages int      `json:"messages"`
}

func reportSimulation(s *streams, o *simulateFlags, run *bench.Run, files []simulatedFile) error {
	doc := simulationDocument{
		Schema: simulationSchema, Scenario: run.Scenario.Name, Seed: o.seed, Files: []string{},
		Rows: len(run.Rows), Messages: len(run.Messages),
	}
	for _, f := range files {
		if f.wanted {
			doc.Files = append(doc.Files, filepath.Join(o.out, f.name))
		}
	}
	if o.json {
		return writeJSON(s.out, doc)
	}
	return text.Simulation(s.out, text.SimulationFacts{
		Scenario: doc.Scenario, Seed: doc.Seed, Files: doc.Files, Rows: doc.Rows, Messages: doc.Messages,
		Recorded: run.Scenario.Parameters.MessagesRecorded,
	}, s.look(o.noColor))
}
