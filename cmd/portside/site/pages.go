package site

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"net/http"
	"slices"

	"portside/captures"
	"portside/cmd/portside/report"
)

const (
	htmlText  = "text/html; charset=utf-8"
	jsonText  = "application/json"
	plainText = "text/plain; charset=utf-8"
)

//go:embed *.html site.css site.js
var assets embed.FS

// pages are the templates and what they name: one style, one script.
type pages struct {
	templates     *template.Template
	style, script []byte
}

// loadPages puts the site's pages, style and script behind those of the
// report, so that both look alike.
func loadPages() (*pages, error) {
	t, err := report.Templates()
	if err != nil {
		return nil, err
	}
	if t, err = t.Funcs(template.FuncMap{"shiftable": shiftable}).ParseFS(assets, "*.html"); err != nil {
		return nil, err
	}
	p := &pages{templates: t}
	if p.style, err = joined(report.Style, "site.css"); err != nil {
		return nil, err
	}
	p.script, err = joined(report.Script, "site.js")
	return p, err
}

func joined(first func() ([]byte, error), name string) ([]byte, error) {
	a, err := first()
	if err != nil {
		return nil, err
	}
	b, err := assets.ReadFile(name)
	return slices.Concat(a, b), err
}

// clock is a kind of file whose clock can be moved.
type clock struct{ Kind, Name string }

func shiftable() []clock {
	return []clock{
		{captures.KindMeter.String(), "the meter's log"}, {captures.KindMessages.String(), "the list of messages"},
		{captures.KindPackets.String(), "the packet capture"}, {captures.KindLine.String(), "the captured line"},
	}
}

// problem is what the page of an error shows.
type problem struct {
	Heading, Message string
	Each             []string
}

// shown is a page: what every page has, and its own.
type shown struct {
	Title   string
	Version string
	Page    any
}

// render makes a page whole. The status 0 is 200.
func (s *Site) render(name string, status int, page any) (*answer, error) {
	var b bytes.Buffer
	if err := s.pages.templates.ExecuteTemplate(&b, name, shown{Title: title(page), Version: s.Version + ", by " + s.Standard, Page: page}); err != nil {
		return nil, fmt.Errorf("the page %s could not be made: %w", name, err)
	}
	return &answer{status: status, kind: htmlText, body: report.Plain(b.Bytes())}, nil
}

func title(page any) string {
	switch p := page.(type) {
	case problem:
		return p.Heading
	case *resultPage:
		return p.View.Title
	case *comparisonPage:
		return p.View.Title
	default:
		return "portside: on which side of the port is the fault?"
	}
}

func (s *Site) asset(kind string, body []byte) http.HandlerFunc {
	return s.page(func(http.ResponseWriter, *http.Request) (*answer, error) {
		return &answer{kind: kind, body: body}, nil
	})
}
