// Package site is the local web page: recordings go in, the verdict comes back
// as a page or as JSON, bench readings move it. It reads no file of the machine
// and writes none; what it holds is gone when the program ends.
package site

import (
	"context"
	"errors"
	"io"
	"net/http"
	"time"

	"portside/cmd/portside/report"
	"portside/decode"
	"portside/decode/probe"
)

// File is one file of a recording. Open may be called once for each analysis.
type File struct {
	Name string // a label, never a path
	Open func() (io.ReadCloser, error)
}

// Question is what is asked of a recording beside its files, as it was typed.
type Question struct {
	Readings []probe.Reading
	MeterAt  string // source, device or ""
	Accuracy string // the meter's limits
	How      How
}

// How is how the files are read. To read them otherwise they are needed again.
type How struct {
	Columns  string
	Signal   string // the line of a capture that is CC
	From, To string
	As       string // the kind that every file is taken as; "" as it looks
	Rate     string
	Shift    string // KIND=SECONDS
}

// Analysis is what came of a recording.
type Analysis struct {
	report.Recorded

	// Unread says of each file, in their order, why it is not in the diagnosis;
	// "" where it is.
	Unread []string
	// Weigh diagnoses the same records under other readings, another place or
	// other limits of the meter. It needs no file and may be called at any time,
	// also by several at once.
	Weigh func(Question) (*decode.Diagnosis, error)
}

// Refusal is why a request is not answered with a result.
type Refusal struct {
	Status  int // of HTTP
	Message string
	Each    []string // why each of several files cannot be read; may be nil
}

func (r *Refusal) Error() string { return r.Message }

// Config is what the site is made of. Every field is needed where it is not said
// otherwise.
type Config struct {
	// Analyse diagnoses a recording from the files that can be read. Where none
	// can it is a *Refusal; nothing may unpack to more than maxUnpacked bytes.
	Analyse func(ctx context.Context, files []File, q Question, maxUnpacked int64) (*Analysis, error)
	// JSON writes a document as the command line does.
	JSON func(w io.Writer, document any) error
	// Command is the command line that makes the same diagnosis.
	Command func(files []string, q Question) string

	Version, Standard string
	Hosts             []string      // names and addresses that the site answers to, without port
	Port              int           // its own
	MaxUpload         int64         // bytes of one upload, packed and unpacked
	MaxAnalyses       int           // at once
	MostKept          int           // bytes that one recording may take in memory, packed; 0 means 16 MiB
	Patience          time.Duration // with one analysis
	Warn              func(error)   // told of what went wrong inside; may be nil
}

// Site answers requests. Make one with [New].
type Site struct {
	Config
	pages   *pages
	results *results
	slots   chan struct{} // one for each analysis that may run
}

// New makes the site with its guards around it.
func New(c Config) (http.Handler, error) {
	p, err := loadPages()
	if err != nil {
		return nil, err
	}
	if c.MostKept == 0 {
		c.MostKept = mostKept
	}
	s := &Site{Config: c, pages: p, results: newResults(), slots: make(chan struct{}, c.MaxAnalyses)}
	return s.guarded(s.routes()), nil
}

func (s *Site) routes() *http.ServeMux {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.page(s.start))
	mux.HandleFunc("GET /style.css", s.asset("text/css; charset=utf-8", s.pages.style))
	mux.HandleFunc("GET /script.js", s.asset("text/javascript; charset=utf-8", s.pages.script))
	mux.HandleFunc("POST /recordings", s.page(s.upload))
	mux.HandleFunc("POST /demos", s.page(s.demo))
	mux.HandleFunc("GET /results/{name}", s.page(s.result))
	mux.HandleFunc("POST /results/{name}", s.page(s.again))
	mux.HandleFunc("GET /results/{name}/report.html", s.page(s.report))
	mux.HandleFunc("GET /compare", s.page(s.compare))
	mux.HandleFunc("GET /compare.json", s.page(s.compareJSON))
	return mux
}

// answer is what a handler found out, whole before any byte of it goes out.
type answer struct {
	status int // 0 means 200
	kind   string
	body   []byte
	to     string // where a 303 leads
	name   string // of the file that a browser saves it as; "" to show it
}

// page turns a handler that returns its answer into one that sends it. An
// error becomes a page of its own, never half of another.
func (s *Site) page(handle func(http.ResponseWriter, *http.Request) (*answer, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		a, err := handle(w, r)
		if err != nil {
			a = s.refusal(err)
		}
		s.send(w, a)
	}
}

// busy is how long a browser may wait before it asks again, in seconds.
const busy = "5"

func (s *Site) send(w http.ResponseWriter, a *answer) {
	allowWriting(w)
	h := w.Header()
	if a.to != "" {
		h.Set("Location", a.to)
		w.WriteHeader(http.StatusSeeOther)
		return
	}
	h.Set("Content-Type", a.kind)
	if a.name != "" {
		h.Set("Content-Disposition", `attachment; filename="`+a.name+`"`)
	}
	if a.status == http.StatusServiceUnavailable {
		h.Set("Retry-After", busy)
	}
	if a.status != 0 {
		w.WriteHeader(a.status)
	}
	_, _ = w.Write(a.body) // a browser that went away has no use for an error
}

// refusal is the page of an error. What is not the visitor's doing is told to
// whoever runs the program.
func (s *Site) refusal(err error) *answer {
	var no *Refusal
	if !errors.As(err, &no) {
		if s.Warn != nil {
			s.Warn(err)
		}
		no = &Refusal{Status: http.StatusInternalServerError, Message: "Something inside failed; the terminal that runs portside serve says what."}
	}
	a, err := s.render("problem", no.Status, problem{Heading: headings(no.Status), Message: no.Message, Each: no.Each})
	if err != nil { // the page of the error cannot be made either
		return &answer{status: no.Status, kind: plainText, body: []byte(no.Message + "\n")}
	}
	return a
}

// headings say what a status means at the bench.
func headings(status int) string {
	switch status {
	case http.StatusRequestEntityTooLarge:
		return "The upload is too large"
	case http.StatusUnprocessableEntity:
		return "This cannot be read as a recording"
	case http.StatusServiceUnavailable:
		return "Other recordings are being analysed"
	case http.StatusNotFound:
		return "There is no such page"
	case http.StatusGone:
		return "The recording is no longer kept"
	case http.StatusMethodNotAllowed:
		return "This page does not take that"
	case http.StatusForbidden:
		return "Not from here"
	case http.StatusGatewayTimeout, http.StatusRequestTimeout:
		return "It took too long"
	case http.StatusInternalServerError:
		return "Something inside failed"
	default:
		return "This request cannot be answered"
	}
}

// take waits for nothing: with all slots taken it is a refusal.
func (s *Site) take() (release func(), err error) {
	select {
	case s.slots <- struct{}{}:
		return func() { <-s.slots }, nil
	default:
		return nil, &Refusal{Status: http.StatusServiceUnavailable, Message: "As many recordings as this machine takes at once are being analysed. Try again in some seconds."}
	}
}

// about is what a page says of itself.
func (s *Site) about(files []report.File) report.About {
	return report.About{Version: s.Version, Standard: s.Standard, Files: files}
}
