package site

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"portside/captures/demo"
	"portside/cmd/portside/report"
	"portside/cmd/portside/text"
	"portside/decode/compare"
	"portside/decode/probe"
)

// startPage is where recordings go in.
type startPage struct {
	Limit    string
	Bytes    int64
	Readings []probe.ReadingForm
	Results  []entry
	Demos    []demo.Info
}

// entry is a result in a list.
type entry struct {
	ID      string
	Number  int
	Verdict string
	About   string
}

func (s *Site) start(http.ResponseWriter, *http.Request) (*answer, error) {
	return s.render("start", 0, startPage{
		Limit: amount(s.MaxUpload), Bytes: s.MaxUpload,
		Readings: probe.Readings(), Results: s.entries(""), Demos: demo.List(),
	})
}

// entries list the results but the one named.
func (s *Site) entries(but string) []entry {
	var out []entry
	for _, r := range s.results.list() {
		if r.id == but {
			continue
		}
		about := strings.Join(r.names(), ", ")
		if n := len(r.question.Readings); n > 0 {
			about = strings.TrimPrefix(fmt.Sprintf("%s, %s", about, counted(n, "reading")), ", ")
		}
		if r.question.How.From+r.question.How.To != "" {
			about += ", a part"
		}
		out = append(out, entry{ID: r.id, Number: r.number, Verdict: text.VerdictLine(&r.recorded.Diagnosis.Verdict), About: about})
	}
	return out
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// find gives the result of an address, which may end in .json.
func (s *Site) find(name string) (*result, error) {
	r, ok := s.results.get(name)
	if !ok {
		return nil, &Refusal{Status: http.StatusNotFound, Message: fmt.Sprintf("No result is held under this address. The last %d results are held, until the program ends.", mostResults)}
	}
	return r, nil
}

// resultPage is a diagnosis with what can be asked next.
type resultPage struct {
	*report.View
	ID      string
	Number  int
	Large   bool // too large to be held
	Held    bool // the recording is still there
	Weighs  bool // a reading can still be added
	Rows    []row
	Others  []probe.ReadingForm // readings that have no row
	Asked   Question
	Shift   shiftForm
	Results []entry
}

// row is a reading that was given or that would help now.
type row struct {
	probe.ReadingForm
	Value string
	Why   string // the measurement; "" where it was given
}

// Hint is what its value may look like.
func (r row) Hint() string { return "such as " + strings.Join(r.Accepted(), ", ") }

// Chosen reports a reading of words only.
func (r row) Chosen() bool { return r.Unit == "" && len(r.Words) > 0 }

func (s *Site) result(_ http.ResponseWriter, r *http.Request) (*answer, error) {
	name, asJSON := strings.CutSuffix(r.PathValue("name"), ".json")
	of, err := s.find(name)
	if err != nil {
		return nil, err
	}
	if asJSON {
		return s.json(of.document())
	}
	v := s.view(of)
	v.Focused = true
	v.Since(of.earlier)
	rows := rowsOf(of)
	return s.render("result", 0, &resultPage{
		View: v, ID: of.id, Number: of.number, Large: of.large,
		Weighs: of.weigh != nil || of.held(), Held: of.held(),
		Rows: rows, Others: othersOf(rows), Asked: of.question, Shift: shiftField(of.question.How.Shift),
		Results: s.entries(of.id),
	})
}

// view is what the report of a result shows.
func (s *Site) view(of *result) *report.View {
	return report.OfDiagnosis(of.recorded, s.Command(of.names(), of.question), s.about(of.shown()))
}

// mostAsked is how many measurements the form offers at once.
const mostAsked = 4

// rowsOf are the readings that were given, then those that would help most.
func rowsOf(of *result) []row {
	forms := map[string]probe.ReadingForm{}
	for _, f := range probe.Readings() {
		forms[f.Name] = f
	}
	var rows []row
	for _, r := range of.question.Readings {
		rows = append(rows, row{ReadingForm: forms[r.Name], Value: r.Text})
	}
	asked := 0
	for _, t := range of.recorded.Diagnosis.Next {
		if t.Reading == nil || asked == mostAsked || slices.ContainsFunc(rows, func(r row) bool { return r.Name == *t.Reading }) {
			continue
		}
		asked++
		rows = append(rows, row{ReadingForm: forms[*t.Reading], Why: t.Test})
	}
	return rows
}

func othersOf(rows []row) []probe.ReadingForm {
	return slices.DeleteFunc(probe.Readings(), func(f probe.ReadingForm) bool {
		return slices.ContainsFunc(rows, func(r row) bool { return r.Name == f.Name })
	})
}

func (s *Site) json(document any) (*answer, error) {
	var b bytes.Buffer
	if err := s.JSON(&b, document); err != nil {
		return nil, err
	}
	return &answer{kind: jsonText, body: b.Bytes()}, nil
}

// report is the result as a file for the customer.
func (s *Site) report(_ http.ResponseWriter, r *http.Request) (*answer, error) {
	of, err := s.find(r.PathValue("name"))
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := report.Diagnosis(&b, of.recorded, s.Command(of.names(), of.question), s.about(of.shown())); err != nil {
		return nil, err
	}
	return &answer{kind: htmlText, body: b.Bytes(), name: fmt.Sprintf("portside-%d.html", of.number)}, nil
}

// again asks the same recording with further readings, or of another part of
// it, and leads to a result of its own.
func (s *Site) again(w http.ResponseWriter, r *http.Request) (*answer, error) {
	of, err := s.find(r.PathValue("name"))
	if err != nil {
		return nil, err
	}
	release, err := s.take()
	if err != nil {
		return nil, err
	}
	defer release()
	if err := form(w, r); err != nil {
		return nil, err
	}
	q, err := changed(of.question, r.PostForm)
	if err != nil {
		return nil, err
	}
	made := &result{
		question: q, recorded: of.recorded, files: of.files, unread: of.unread, kept: of.kept, weigh: of.weigh, large: of.large,
		earlier: of.recorded.Diagnosis.Verdict.Locations,
	}
	if err := s.reconsider(r.Context(), made, of); err != nil {
		return nil, err
	}
	return &answer{to: "/results/" + s.results.add(made)}, nil
}

// held reports whether the recording of a result can be read again.
func (r *result) held() bool { return r.kept != nil || len(r.files) == 0 }

// reconsider diagnoses anew what a result was made of: from what the analysis holds
// of the records where that will do, else from the recording.
func (s *Site) reconsider(ctx context.Context, made, of *result) error {
	if of.weigh != nil && made.question.How == of.question.How {
		d, err := of.weigh(made.question)
		if err != nil {
			return s.broken(err)
		}
		made.recorded.Diagnosis = d
		return nil
	}
	if !of.held() {
		return &Refusal{Status: http.StatusGone, Message: "Its files were too large to be held, or newer ones took their place. Choose them again on the first page, and say there what is to be read otherwise."}
	}
	var files []File
	for _, k := range of.kept {
		files = append(files, k.file())
	}
	return s.diagnose(ctx, made, files)
}

// shiftForm is a shift as the two fields of a form.
type shiftForm struct{ Of, By string }

func shiftField(s string) shiftForm {
	of, by, _ := strings.Cut(s, "=")
	return shiftForm{of, by}
}

// valueOf begins the name of a field that holds the value of one reading.
const valueOf = "value:"

// changed is the question with what a form says: a field that is not there
// changes nothing, one without a value takes the reading away.
func changed(q Question, fields map[string][]string) (Question, error) {
	given := map[string]string{}
	var order []string
	set := func(name, value string) {
		if !slices.Contains(order, name) {
			order = append(order, name)
		}
		given[name] = value
	}
	first := func(key string) string {
		if v := fields[key]; len(v) > 0 {
			return strings.TrimSpace(v[0])
		}
		return ""
	}
	for _, r := range q.Readings {
		set(r.Name, r.Text)
	}
	for _, f := range probe.Readings() {
		if _, ok := fields[valueOf+f.Name]; ok {
			set(f.Name, first(valueOf+f.Name))
		}
	}
	if value := first("value"); value != "" {
		set(first("name"), value)
	}
	for _, r := range fields["reading"] {
		name, value, _ := strings.Cut(r, "=")
		if strings.TrimSpace(r) != "" {
			set(strings.TrimSpace(name), strings.TrimSpace(value))
		}
	}
	var words []string
	for _, name := range order {
		if given[name] != "" {
			words = append(words, name+"="+given[name])
		}
	}
	var err error
	if q.Readings, err = readings(words); err != nil {
		return q, err
	}
	for key := range fields {
		if to := q.field(key); to != nil {
			*to = first(key)
		}
	}
	if _, ok := fields["shift-by"]; ok {
		q.How.Shift = shift(first("shift-of"), first("shift-by"))
	}
	return q, nil
}

// comparisonPage sets two results side by side.
type comparisonPage struct {
	*report.View
	Before, After *result
}

// BeforeID is the address of the first result.
func (p *comparisonPage) BeforeID() string { return p.Before.id }

// AfterID is the address of the second; see BeforeID.
func (p *comparisonPage) AfterID() string { return p.After.id }

// Numbers are those of the two results.
func (p *comparisonPage) Numbers() [2]int { return [2]int{p.Before.number, p.After.number} }

func (s *Site) both(r *http.Request) (before, after *result, c *compare.Comparison, err error) {
	q := r.URL.Query()
	if !q.Has("before") || !q.Has("after") {
		return nil, nil, nil, &Refusal{Status: http.StatusBadRequest, Message: "Choose two results, before and after, on the first page."}
	}
	if before, err = s.find(q.Get("before")); err != nil {
		return nil, nil, nil, err
	}
	if after, err = s.find(q.Get("after")); err != nil {
		return nil, nil, nil, err
	}
	return before, after, compare.Compare(side(before), side(after)), nil
}

func side(r *result) compare.Recording {
	return compare.Recording{Diagnosis: r.recorded.Diagnosis, Readings: r.question.Readings}
}

func (s *Site) compare(_ http.ResponseWriter, r *http.Request) (*answer, error) {
	before, after, c, err := s.both(r)
	if err != nil {
		return nil, err
	}
	v := report.OfComparison(c, before.recorded, after.recorded, s.about(slices.Concat(before.shown(), after.shown())))
	v.Focused = true
	return s.render("comparison", 0, &comparisonPage{View: v, Before: before, After: after})
}

func (s *Site) compareJSON(_ http.ResponseWriter, r *http.Request) (*answer, error) {
	_, _, c, err := s.both(r)
	if err != nil {
		return nil, err
	}
	return s.json(c)
}
