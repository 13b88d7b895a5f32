package site

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"path"
	"strings"

	"portside/captures/demo"
	"portside/cmd/portside/report"
	"portside/cmd/portside/text"
	"portside/decode/probe"
)

const (
	mostFiles = 16       // of one recording; a plug-in has a meter log and one or two lists
	mostParts = 128      // fields of a form, the files among them
	mostField = 4 << 10  // bytes of a field that is no file
	mostForm  = 64 << 10 // bytes of a form without files
	mostLabel = 120      // characters of a file's name that are shown
	// overhead is what a form may weigh beside its files.
	overhead = 1 << 20
)

// intake is an upload on its way in. Files are packed in memory until they
// are too large for that; the first that is flows straight into the analysis
// and must be the last.
type intake struct {
	question Question
	given    []string // readings as typed
	shiftOf  string
	shiftBy  string
	files    []*kept
	live     *live // nil where all fit
	parts    int
	room     int // bytes that may still be kept
}

// kept is a file of a recording in memory.
type kept struct {
	name  string
	bytes *packed
	about report.File
}

func (k *kept) file() File { return File{Name: k.name, Open: k.bytes.open} }

// live is a file too large to keep: its head is packed, its rest still on its
// way.
type live struct {
	name string
	head *packed
	rest *digested
	used bool
}

// open gives the file, once.
func (l *live) open() (io.ReadCloser, error) {
	if l.used {
		return nil, errors.New("a recording on its way can be read once only")
	}
	l.used = true
	head, err := l.head.open()
	if err != nil {
		return nil, err
	}
	return struct {
		io.Reader
		io.Closer
	}{io.MultiReader(head, l.rest), head}, nil
}

// digested takes the digest of a file on its way and keeps the error that it
// ended with: a reader of recordings takes what it got as all there is.
type digested struct {
	r   io.Reader
	sum hash.Hash
	n   int64
	err error
}

func (d *digested) Read(b []byte) (int, error) {
	n, err := d.r.Read(b)
	d.sum.Write(b[:n])
	d.n += int64(n)
	if err != nil && !errors.Is(err, io.EOF) {
		d.err = err
	}
	return n, err
}

func (d *digested) about(name string) report.File {
	return report.File{Name: name, Bytes: d.n, SHA256: hex.EncodeToString(d.sum.Sum(nil))}
}

// upload takes a recording and leads to its result.
func (s *Site) upload(w http.ResponseWriter, r *http.Request) (*answer, error) {
	allowReading(w)
	body := &patient{ReadCloser: r.Body, w: w}
	a, err := s.receive(w, r, body)
	var no *Refusal
	if errors.As(err, &no) && no.Status != http.StatusRequestTimeout {
		discard(r, body)
	}
	return a, err
}

func (s *Site) receive(w http.ResponseWriter, r *http.Request, body io.ReadCloser) (*answer, error) {
	release, err := s.take()
	if err != nil {
		return nil, err
	}
	defer release()
	if r.ContentLength > s.MaxUpload+overhead {
		return nil, s.tooLarge()
	}
	r.Body = http.MaxBytesReader(w, body, s.MaxUpload+overhead)
	form, err := r.MultipartReader()
	if err != nil {
		return nil, &Refusal{Status: http.StatusUnsupportedMediaType, Message: "Expected a form with the field file, sent as multipart/form-data."}
	}
	in := &intake{room: s.MostKept}
	if err := in.read(form); err != nil {
		return nil, s.broken(err)
	}
	made, err := s.analysed(r.Context(), in, form)
	if err != nil {
		return nil, err
	}
	return &answer{to: "/results/" + s.results.add(made)}, nil
}

// read takes the parts up to the end, or up to a file that is too large to
// keep.
func (in *intake) read(form *multipart.Reader) error {
	for in.live == nil {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			return in.asked()
		}
		if err != nil {
			return err
		}
		if err := in.part(part); err != nil {
			return err
		}
	}
	return in.asked()
}

// asked reads the readings that came with the files.
func (in *intake) asked() (err error) {
	in.question.How.Shift = shift(in.shiftOf, in.shiftBy)
	in.question.Readings, err = readings(in.given)
	return err
}

func readings(given []string) ([]probe.Reading, error) {
	out, err := probe.ParseReadings(given)
	if err != nil {
		return nil, &Refusal{Status: http.StatusUnprocessableEntity, Message: "The reading is not understood: " + text.Safe(err.Error()) + "."}
	}
	return out, nil
}

func (in *intake) part(part *multipart.Part) error {
	if in.parts++; in.parts > mostParts {
		return &Refusal{Status: http.StatusRequestEntityTooLarge, Message: fmt.Sprintf("A form may have at most %d fields.", mostParts)}
	}
	if part.FormName() == "file" {
		return in.file(part)
	}
	value, err := field(part)
	if err != nil {
		return err
	}
	switch part.FormName() {
	case "reading":
		if value != "" {
			in.given = append(in.given, value)
		}
	case "shift-of":
		in.shiftOf = value
	case "shift-by":
		in.shiftBy = value
	default:
		if to := in.question.field(part.FormName()); to != nil {
			*to = value
		}
	}
	return nil
}

// field is where the value of a form's field belongs; nil where it is none of the
// question's.
func (q *Question) field(name string) *string {
	switch name {
	case "meter-at":
		return &q.MeterAt
	case "meter-accuracy":
		return &q.Accuracy
	case "columns":
		return &q.How.Columns
	case "signal":
		return &q.How.Signal
	case "from":
		return &q.How.From
	case "to":
		return &q.How.To
	case "as":
		return &q.How.As
	case "rate":
		return &q.How.Rate
	default:
		return nil
	}
}

// shift is KIND=SECONDS as the command line has it, "" where no seconds were typed.
func shift(of, by string) string {
	if by == "" {
		return ""
	}
	return of + "=" + by
}

func field(part *multipart.Part) (string, error) {
	b, err := io.ReadAll(io.LimitReader(part, mostField+1))
	if err != nil {
		return "", err
	}
	if len(b) > mostField {
		return "", &Refusal{Status: http.StatusRequestEntityTooLarge, Message: fmt.Sprintf("A field beside the files may have at most %d bytes.", mostField)}
	}
	return strings.TrimSpace(string(b)), nil
}

// file keeps a file, or leaves the rest of it in the upload where it is too
// large to keep.
func (in *intake) file(part *multipart.Part) error {
	source := &digested{r: part, sum: sha256.New()}
	p, whole, err := pack(source, in.room)
	switch {
	case err != nil:
		return err
	case whole && source.n == 0 && part.FileName() == "":
		return nil // a form that was sent without choosing a file
	case len(in.files) == mostFiles:
		return &Refusal{Status: http.StatusRequestEntityTooLarge, Message: fmt.Sprintf("A recording may have at most %d files.", mostFiles)}
	}
	name := in.label(part.FileName())
	if !whole {
		in.live = &live{name: name, head: p, rest: source}
		return nil
	}
	in.room -= p.size
	in.files = append(in.files, &kept{name: name, bytes: p, about: source.about(name)})
	return nil
}

// label is what a file is called here: its name without folders, short, with
// nothing in it that steers a screen, and unlike the others'.
func (in *intake) label(name string) string {
	name = text.Safe(path.Base(strings.ReplaceAll(name, `\`, "/")))
	if name == "." || name == "/" {
		name = "recording"
	}
	if r := []rune(name); len(r) > mostLabel {
		name = string(r[:mostLabel]) + "..."
	}
	for _, k := range in.files {
		if k.name == name {
			return fmt.Sprintf("%s (%d)", name, len(in.files)+1)
		}
	}
	return name
}

// analysed diagnoses what came in and makes a result of it.
func (s *Site) analysed(ctx context.Context, in *intake, form *multipart.Reader) (*result, error) {
	if len(in.files) == 0 && in.live == nil && len(in.question.Readings) == 0 {
		return nil, &Refusal{Status: http.StatusUnprocessableEntity, Message: "No file was chosen and no reading was given. Choose the meter's log, the recorded messages, or both."}
	}
	made := &result{question: in.question}
	var files []File
	for _, k := range in.files {
		files = append(files, k.file())
		made.files = append(made.files, k.about)
	}
	if in.live == nil {
		made.kept = in.files
		return made, s.diagnose(ctx, made, files)
	}
	files = append(files, File{Name: in.live.name, Open: in.live.open})
	err := s.diagnose(ctx, made, files)
	if late := in.live.rest.err; late != nil {
		return nil, s.broken(late)
	}
	if err != nil {
		return nil, err
	}
	if _, err := io.Copy(io.Discard, in.live.rest); err != nil {
		return nil, s.broken(err)
	}
	made.files = append(made.files, in.live.rest.about(in.live.name))
	made.large = true
	return made, s.nothingAfter(form, in.live.name)
}

// nothingAfter looks that nothing which belongs to the recording stands behind
// the file that is analysed already.
func (s *Site) nothingAfter(form *multipart.Reader, name string) error {
	after := &intake{room: s.MostKept}
	for {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return s.broken(err)
		}
		if part.FormName() == "file" && part.FileName() != "" {
			return late(name)
		}
		if err := after.part(part); err != nil {
			return s.broken(err)
		}
	}
	after.question.How.Shift = shift(after.shiftOf, after.shiftBy)
	if len(after.given) > 0 || len(after.files) > 0 || after.question.typed() {
		return late(name)
	}
	return nil
}

// typed reports a field beside the files and readings.
func (q *Question) typed() bool {
	return q.MeterAt+q.Accuracy != "" || q.How != How{}
}

func late(name string) error {
	return &Refusal{Status: http.StatusUnprocessableEntity, Message: name + " is so large that it is analysed while it arrives. Send the other files, and all that is typed in, before it."}
}

// diagnose asks for the diagnosis of a result's files, and notes the ones that
// could not be read.
func (s *Site) diagnose(ctx context.Context, of *result, files []File) error {
	ctx, cancel := context.WithTimeout(ctx, s.Patience)
	defer cancel()
	a, err := s.Analyse(ctx, files, of.question, s.MaxUpload)
	switch {
	case errors.Is(ctx.Err(), context.DeadlineExceeded):
		return &Refusal{Status: http.StatusGatewayTimeout, Message: fmt.Sprintf("The analysis was stopped after %s. Analyse a part of the recording, or use portside diagnose.", s.Patience)}
	case err != nil:
		return s.broken(err)
	}
	of.recorded, of.weigh, of.unread = a.Recorded, a.Weigh, a.Unread
	return nil
}

// broken names what ended an upload.
func (s *Site) broken(err error) error {
	var no *Refusal
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &no):
		if no.Status == http.StatusRequestEntityTooLarge && no.Message == "" {
			return s.tooLarge()
		}
		return no
	case errors.As(err, &large):
		return s.tooLarge()
	case errors.Is(err, os.ErrDeadlineExceeded):
		return &Refusal{Status: http.StatusRequestTimeout, Message: "The upload stopped on its way. Send it again."}
	case errors.Is(err, context.Canceled):
		return &Refusal{Status: http.StatusBadRequest, Message: "The upload was broken off."}
	default:
		return &Refusal{Status: http.StatusBadRequest, Message: "The upload is damaged or was broken off: " + text.Safe(err.Error()) + "."}
	}
}

func (s *Site) tooLarge() error {
	return &Refusal{Status: http.StatusRequestEntityTooLarge, Message: fmt.Sprintf(
		"An upload may have at most %s, and may not unpack to more. portside serve --max-upload raises that; portside diagnose has no such limit.", text.Safe(amount(s.MaxUpload)))}
}

// amount prints a number of bytes.
func amount(n int64) string {
	for _, u := range []struct {
		of   int64
		name string
	}{{1 << 30, "GiB"}, {1 << 20, "MiB"}, {1 << 10, "KiB"}} {
		if n >= u.of && n%u.of == 0 {
			return fmt.Sprintf("%d %s", n/u.of, u.name)
		}
	}
	return fmt.Sprintf("%d bytes", n)
}

// demo takes a recording that comes with the program.
func (s *Site) demo(w http.ResponseWriter, r *http.Request) (*answer, error) {
	release, err := s.take()
	if err != nil {
		return nil, err
	}
	defer release()
	if err := form(w, r); err != nil {
		return nil, err
	}
	files, err := demo.Open(r.PostForm.Get("name"))
	if errors.Is(err, demo.ErrUnknown) {
		return nil, &Refusal{Status: http.StatusUnprocessableEntity, Message: text.Sentence(text.Safe(err.Error()))}
	}
	if err != nil {
		return nil, err
	}
	in := &intake{}
	for _, f := range files {
		source := &digested{r: f.Data, sum: sha256.New()}
		p, _, err := pack(source, mostKept)
		if err != nil {
			return nil, err
		}
		in.files = append(in.files, &kept{name: f.Label, bytes: p, about: source.about(f.Label)})
	}
	made, err := s.analysed(r.Context(), in, nil)
	if err != nil {
		return nil, err
	}
	return &answer{to: "/results/" + s.results.add(made)}, nil
}

// form reads the fields of a form without files.
func form(w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, mostForm)
	err := r.ParseForm()
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return &Refusal{Status: http.StatusRequestEntityTooLarge, Message: "A form without files may have at most " + amount(mostForm) + "."}
	case err != nil:
		return &Refusal{Status: http.StatusBadRequest, Message: "The form is damaged: " + text.Safe(err.Error()) + "."}
	}
	return nil
}
