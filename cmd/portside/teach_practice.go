package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"portside/cmd/portside/lessons"
	"portside/cmd/portside/text"
	"portside/decode/location"
	"portside/decode/rules"
)

// result is what became of one case, a line of the record of progress.
type result struct {
	At       string         `json:"at,omitempty"` // when, in the record only
	Seed     uint64         `json:"seed"`
	Case     int            `json:"case"`
	Level    int            `json:"level"`
	Scenario string         `json:"scenario"`
	Answer   rules.Location `json:"answer"` // "" where it was given up
	Truth    rules.Location `json:"truth"`
	Part     *string        `json:"part"` // null where all is sound
	Right    bool           `json:"right"`
	Safe     bool           `json:"safe"`
	Minutes  float64        `json:"minutes"`
	Measured []string       `json:"measured"`
	Score    int            `json:"score"`
}

// practiceDocument is what teach --practice --json prints at the end.
type practiceDocument struct {
	Schema string   `json:"schema"`
	Cases  []result `json:"cases"`
	Score  int      `json:"score"`
}

// practice is a session at the simulated bench.
type practice struct {
	s       *streams
	o       *teachFlags
	out     io.Writer
	look    text.Look
	keys    *bufio.Scanner
	ended   bool // no more keys, or quit
	results []result
}

func practise(s *streams, o *teachFlags) error {
	if o.html.path != "" {
		return usage("--html is for lessons; leave it out of --practice")
	}
	if o.level < 0 || o.level > lessons.Levels {
		return usage("--level %d: expected 1 to %d, or 0 to climb", o.level, lessons.Levels)
	}
	if o.cases < 0 {
		return usage("--cases %d: expected 1 or more, or 0 for as many as you like", o.cases)
	}
	p := &practice{s: s, o: o, out: s.out, look: s.look(o.noColor), keys: bufio.NewScanner(s.in)}
	if o.json {
		p.out = io.Discard
	}
	level := max(1, o.level)
	for n := 1; !p.ended && (o.cases == 0 || n <= o.cases); n++ {
		c, err := lessons.NewCase(o.seed, n, level)
		if err != nil {
			return err
		}
		if err := p.solve(c); err != nil {
			return err
		}
		if o.level == 0 && len(p.results) == n {
			level = nextLevel(level, p.results[n-1])
		}
	}
	return p.close()
}

// nextLevel climbs with a right and safe answer and steps down with another.
func nextLevel(level int, r result) int {
	if r.Right && r.Safe {
		return min(level+1, lessons.Levels)
	}
	return max(level-1, 1)
}

func (p *practice) close() error {
	doc := practiceDocument{Schema: "portside/practice/1", Cases: p.results}
	right, safe, minutes := 0, 0, 0.0
	for _, r := range p.results {
		doc.Score += r.Score
		minutes += r.Minutes
		if r.Right {
			right++
		}
		if r.Safe {
			safe++
		}
	}
	if p.o.json {
		if doc.Cases == nil {
			doc.Cases = []result{}
		}
		return writeJSON(p.s.out, doc)
	}
	n := len(p.results)
	return p.say("", fmt.Sprintf("Solved so far: %d of %d right, %d of %d safe, %.3g minutes, %d points of %d.", right, n, safe, n, minutes, doc.Score, 100*n))
}

// say prints paragraphs; the heading may be empty.
func (p *practice) say(heading string, paragraphs ...string) error {
	return text.Paragraphs(p.out, heading, paragraphs, p.look)
}

// solve plays one case until it is answered or the keys end.
func (p *practice) solve(c *lessons.Case) error {
	if err := p.show(c); err != nil {
		return err
	}
	if err := p.say("", "Where does the fault lie? Type  readings  to see what can be measured,  measure NAME,  and then  answer LOCATION.  Also:  show,  give-up,  quit."); err != nil {
		return err
	}
	for {
		words, err := p.command()
		if err != nil {
			return err
		}
		if p.ended {
			return nil
		}
		done, err := p.do(c, words)
		if done || err != nil {
			return err
		}
	}
}

// command reads the next line that says something.
func (p *practice) command() ([]string, error) {
	for {
		if p.s.outTTY && p.s.inTTY {
			if _, err := fmt.Fprint(p.out, "> "); err != nil {
				return nil, err
			}
		}
		if !p.keys.Scan() {
			p.ended = true
			return nil, p.keys.Err()
		}
		words := strings.Fields(strings.ToLower(p.keys.Text()))
		if len(words) > 0 && !strings.HasPrefix(words[0], "#") {
			return words, nil
		}
	}
}

func (p *practice) do(c *lessons.Case, words []string) (done bool, err error) {
	operand := strings.Join(words[1:], "-")
	switch words[0] {
	case "measure", "m":
		return false, p.measure(c, operand)
	case "answer", "a":
		return p.answer(c, operand)
	case "readings", "r":
		return false, p.readings(c)
	case "show", "s":
		return false, p.show(c)
	case "give-up":
		return true, p.finish(c, "")
	case "quit", "q":
		p.ended = true
		return true, nil
	}
	known := []string{"measure", "answer", "readings", "show", "give-up", "quit"}
	if near := nearest(words[0], known); near != "" {
		return false, p.say("", fmt.Sprintf("There is no %q here; did you mean %s?", words[0], near))
	}
	return false, p.say("", fmt.Sprintf("There is no %q here; there are %s.", words[0], strings.Join(known, ", ")))
}

// show prints the recording's picture and numbers, and what was measured.
func (p *practice) show(c *lessons.Case) error {
	x := &c.Run.Scenario.Parameters
	lines := []string{fmt.Sprintf("The meter sits at the %s's end of the cable.", x.Meter)}
	if !x.MessagesRecorded {
		lines = append(lines, "Nobody recorded the messages.")
	}
	if x.BatteryConnected {
		lines = append(lines, "The battery is connected.")
	} else {
		lines = append(lines, "The battery is disconnected.")
	}
	if err := p.say(fmt.Sprintf("Case %d, level %d", c.Number, c.Level), lines...); err != nil {
		return err
	}
	if err := text.Picture(p.out, c.Plain, p.look); err != nil {
		return err
	}
	if err := text.Numbers(p.out, c.Plain, p.look); err != nil {
		return err
	}
	return p.say("", append([]string{""}, measured(c)...)...)
}

func measured(c *lessons.Case) []string {
	if len(c.Readings) == 0 {
		return nil
	}
	var out []string
	for _, r := range c.Readings {
		out = append(out, r.String())
	}
	return []string{fmt.Sprintf("Measured in %.3g minutes: %s.", c.Minutes, strings.Join(out, ", "))}
}

func (p *practice) readings(c *lessons.Case) error {
	g := &text.Grid{Head: []string{"reading", "min", "power", "what it is"}, Figures: map[int]bool{1: true}}
	for _, a := range c.Asks() {
		power := "off"
		if a.Powers {
			power = "ON"
		}
		g.Rows = append(g.Rows, []string{a.Reading, fmt.Sprintf("%.3g", a.Minutes), power, a.Words})
	}
	return text.Table(p.out, g, p.look)
}

func (p *practice) measure(c *lessons.Case, name string) error {
	before := c.Unsafe
	r, ask, err := c.Measure(name)
	if errors.Is(err, lessons.ErrNoReading) {
		if near := nearest(name, askable(c)); near != "" {
			return p.say("", fmt.Sprintf("There is no reading %q here; did you mean %s?", name, near))
		}
		return p.say("", fmt.Sprintf("There is no reading %q here; readings lists them.", name))
	}
	if err != nil {
		return err
	}
	if err := p.say("", fmt.Sprintf("%s   (%.3g min, %.3g in all)", r, ask.Minutes, c.Minutes)); err != nil {
		return err
	}
	if before == "" && c.Unsafe != "" {
		return p.say("SMOKE. "+text.Sentence(c.Unsafe), "The points of this case are lost. Find the place all the same.")
	}
	return nil
}

func askable(c *lessons.Case) []string {
	var out []string
	for _, a := range c.Asks() {
		out = append(out, a.Reading)
	}
	return out
}

func places() []string {
	var out []string
	for _, l := range []rules.Location{rules.BeforePort, rules.AtPort, rules.BehindPort, rules.Healthy} {
		out = append(out, string(l))
	}
	return out
}

func (p *practice) answer(c *lessons.Case, place string) (done bool, err error) {
	if !slices.Contains(places(), place) {
		return false, p.say("", fmt.Sprintf("An answer is one of %s.", strings.Join(places(), ", ")))
	}
	return true, p.finish(c, rules.Location(place))
}

// finish scores a case, explains it and keeps it.
func (p *practice) finish(c *lessons.Case, answer rules.Location) error {
	r := result{
		Seed: p.o.seed, Case: c.Number, Level: c.Level, Scenario: c.Run.Scenario.Name, Answer: answer, Truth: c.Truth(),
		Right: answer == c.Truth(), Safe: c.Unsafe == "", Minutes: c.Minutes, Measured: []string{}, Score: c.Score(answer),
	}
	if part := c.Part(); part != "" {
		r.Part = &part
	}
	for _, x := range c.Readings {
		r.Measured = append(r.Measured, x.String())
	}
	p.results = append(p.results, r)
	if err := p.explain(c, r); err != nil {
		return err
	}
	return p.keep(r)
}

func (p *practice) explain(c *lessons.Case, r result) error {
	heading := "WRONG"
	switch {
	case r.Right && r.Safe:
		heading = "RIGHT"
	case r.Right:
		heading = "RIGHT, BUT UNSAFE"
	case r.Answer == "":
		heading = "GIVEN UP"
	}
	truth := text.Side(r.Truth)
	if r.Part != nil {
		truth += ", " + *r.Part
	}
	s := &c.Run.Scenario
	d := c.Explained()
	lines := []string{
		fmt.Sprintf("The truth: %s (%s). %s", truth, s.Name, text.Sentence(s.Title)),
		"The engine, with your readings: " + text.VerdictLine(&d.Verdict) + " " + text.Sentence(d.Verdict.Summary),
	}
	if len(c.Readings) > 0 {
		lines = append(lines, "From the recording alone: "+text.VerdictLine(&c.Plain.Verdict))
	}
	if n := c.Plain.Next; len(n) > 0 && r.Truth != rules.Healthy {
		lines = append(lines, "First it would have measured "+nameOf(n[0])+".")
	}
	if c.Unsafe != "" {
		lines = append(lines, "Unsafe: "+c.Unsafe+".")
	}
	if r.Truth != rules.Healthy {
		lines = append(lines, "Walk through one like it: portside teach "+s.Name)
	}
	lines = append(lines, fmt.Sprintf("%.3g minutes; %d of 100 points.", r.Minutes, r.Score), "")
	return p.say(heading, lines...)
}

func nameOf(t location.Test) string {
	if t.Reading != nil {
		return *t.Reading
	}
	return t.Test
}

// keep adds a result to the record of progress, where one is asked for.
func (p *practice) keep(r result) (err error) {
	if p.o.record == "" {
		return nil
	}
	r.At = time.Now().Format(time.RFC3339)
	line, err := json.Marshal(r)
	if err != nil {
		return err
	}
	f, err := os.OpenFile(p.o.record, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		return notWritten(p.o.record, err)
	}
	_, err = f.Write(append(line, '\n'))
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return notWritten(p.o.record, err)
	}
	return nil
}
