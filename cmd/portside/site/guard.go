package site

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"time"
)

// policy lets the page use its own style, script and addresses, and nothing
// else.
const policy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

const (
	// idle is how long a visitor may send or take nothing.
	idle = 10 * time.Second
	// writing is how long the longest page may take to go out.
	writing = 30 * time.Second
	// discardMost and discardFor bound what is read of a refused upload, so
	// that the browser gets to see why instead of a broken connection.
	discardMost = 1 << 30
	discardFor  = 20 * time.Second
)

// guarded puts the checks around the routes that hold for every request.
func (s *Site) guarded(mux *http.ServeMux) http.Handler {
	foreign := http.NewCrossOriginProtection()
	foreign.SetDenyHandler(s.page(func(http.ResponseWriter, *http.Request) (*answer, error) {
		return nil, &Refusal{Status: http.StatusForbidden, Message: "The request came from a page of another site. Open the page at its own address and send it from there."}
	}))
	inner := foreign.Handler(s.known(mux))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.headers(w.Header())
		defer s.caught(w)
		if !s.ours(r.Host) {
			s.page(func(http.ResponseWriter, *http.Request) (*answer, error) {
				return nil, &Refusal{Status: http.StatusForbidden, Message: "The page answers at its own address only; the terminal that runs portside serve names it."}
			})(w, r)
			return
		}
		inner.ServeHTTP(w, r)
	})
}

func (s *Site) headers(h http.Header) {
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", s.referrer())
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
}

// referrer is "no-referrer" on this machine. Elsewhere plain http has no
// Sec-Fetch-Site, and without a referrer a browser sends the page's own form
// with Origin "null" (Fetch standard, "serialize a request origin"), which
// nothing tells from a foreign one.
func (s *Site) referrer() string {
	for _, host := range s.Hosts {
		if !Loopback(host) {
			return "same-origin"
		}
	}
	return "no-referrer"
}

// Loopback reports a name or address of this machine that no other reaches.
func Loopback(host string) bool {
	if strings.EqualFold(host, "localhost") {
		return true
	}
	ip := net.ParseIP(strings.Trim(host, "[]"))
	return ip != nil && ip.IsLoopback()
}

// ours reports a Host that names this site with its own port. A page of
// another site whose name was made to lead here carries that name.
func (s *Site) ours(host string) bool {
	name, port := host, "80" // http's own, which a browser leaves out
	if h, p, err := net.SplitHostPort(host); err == nil {
		name, port = h, p
	}
	name = strings.Trim(name, "[]")
	return port == strconv.Itoa(s.Port) &&
		slices.ContainsFunc(s.Hosts, func(h string) bool { return strings.EqualFold(strings.Trim(h, "[]"), name) })
}

// caught turns a crash of one request into its page.
func (s *Site) caught(w http.ResponseWriter) {
	cause := recover()
	if cause == nil {
		return
	}
	if err, ok := cause.(error); ok && errors.Is(err, http.ErrAbortHandler) {
		panic(cause) // how net/http is told to hang up
	}
	s.send(w, s.refusal(fmt.Errorf("a request broke inside: %v\n%s", cause, debug.Stack())))
}

// known gives pages of our own where the routes have none: 404, and 405 with
// what is allowed instead.
func (s *Site) known(mux *http.ServeMux) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		handler, pattern := mux.Handler(r)
		if pattern != "" {
			mux.ServeHTTP(w, r)
			return
		}
		said := &verdictOf{header: http.Header{}}
		handler.ServeHTTP(said, r)
		no := &Refusal{Status: http.StatusNotFound, Message: "Nothing is kept under this address. What is held is gone when the program ends."}
		if said.status == http.StatusMethodNotAllowed {
			w.Header().Set("Allow", said.header.Get("Allow"))
			no = &Refusal{Status: said.status, Message: "This address takes " + said.header.Get("Allow") + " only."}
		}
		s.page(func(http.ResponseWriter, *http.Request) (*answer, error) { return nil, no })(w, r)
	})
}

// verdictOf keeps the status and headers that a handler gives.
type verdictOf struct {
	header http.Header
	status int
	body   bytes.Buffer
}

func (v *verdictOf) Header() http.Header         { return v.header }
func (v *verdictOf) WriteHeader(status int)      { v.status = status }
func (v *verdictOf) Write(b []byte) (int, error) { return v.body.Write(b) }

// allowReading gives the visitor a while to send on, allowWriting one to take
// the answer. Tests have no connection to set a time on.
func allowReading(w http.ResponseWriter) {
	_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(idle))
}

func allowWriting(w http.ResponseWriter) {
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(writing))
}

// patient gives more time with every piece that arrives, so that a long upload
// is none too long and a stalled one is.
type patient struct {
	io.ReadCloser
	w http.ResponseWriter
}

func (p *patient) Read(b []byte) (int, error) {
	allowReading(p.w)
	return p.ReadCloser.Read(b)
}

// discard reads the rest of a refused upload. A visitor that waits to be told
// to go on sends nothing.
func discard(r *http.Request, body io.Reader) {
	if r.Header.Get("Expect") != "" {
		return
	}
	end := time.Now().Add(discardFor)
	var buffer [64 << 10]byte
	for n := 0; n < discardMost && time.Now().Before(end); {
		k, err := body.Read(buffer[:])
		if err != nil {
			return
		}
		n += k
	}
}
