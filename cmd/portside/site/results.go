package site

import (
	"crypto/rand"
	"slices"
	"sync"

	"portside/cmd/portside/report"
	"portside/decode"
	"portside/decode/rules"
)

// mostResults is how many results are held; the oldest goes first.
const mostResults = 64

// result is one diagnosis with what is needed to ask again. Nothing in it
// changes once it was added, but for kept, which results takes away.
type result struct {
	id       string
	number   int // from 1, in the order of the results
	question Question
	recorded report.Recorded
	files    []report.File
	unread   []string // why each of the files is not in the diagnosis, "" where it is
	kept     []*kept  // the recording itself; nil where it is not held
	large    bool     // too large to be held
	// weigh asks the records again, without the recording; nil where they are gone.
	weigh   func(Question) (*decode.Diagnosis, error)
	earlier map[rules.Location]float64
}

// names are those of the files that the diagnosis rests on.
func (r *result) names() []string {
	var names []string
	for i, f := range r.files {
		if r.why(i) == "" {
			names = append(names, f.Name)
		}
	}
	return names
}

// why says why a file is not in the diagnosis, "" where it is.
func (r *result) why(i int) string {
	if i < len(r.unread) {
		return r.unread[i]
	}
	return ""
}

// document is the diagnosis as JSON has it, where nothing else tells of a file that
// could not be read.
func (r *result) document() *decode.Diagnosis {
	d := *r.recorded.Diagnosis
	d.NotSeen = slices.Clone(d.NotSeen)
	for _, why := range r.unread {
		if why != "" {
			d.NotSeen = append(d.NotSeen, "what a file holds that could not be read: "+why)
		}
	}
	return &d
}

// shown are the files as a page shows them.
func (r *result) shown() []report.File {
	out := slices.Clone(r.files)
	for i := range out {
		out[i].Unread = r.why(i)
	}
	return out
}

// results holds the results in memory, in their order.
type results struct {
	mu    sync.Mutex
	all   []*result
	count int
}

func newResults() *results { return &results{} }

// add keeps a result and gives its name, which nobody can guess.
func (h *results) add(r *result) string {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.count++
	r.id, r.number = rand.Text(), h.count
	h.all = append(h.all, r)
	if len(h.all) > mostResults {
		h.all = slices.Delete(h.all, 0, 1)
	}
	h.trim()
	return r.id
}

// mostWeighed is how many of the newest results hold the records' sums. Those of a
// meter log that never rests take 6 MB, others a tenth of one.
const mostWeighed = 16

// trim lets the oldest recordings go until the rest fits. Results of one
// recording share it.
func (h *results) trim() {
	for from, r := range h.all {
		older := *r // whoever reads the old one goes on undisturbed
		if h.weight(from) > mostKeptTogether {
			older.kept = nil
		}
		if from < len(h.all)-mostWeighed {
			older.weigh = nil
		}
		h.all[from] = &older
	}
}

// weight is what the results from one on hold together.
func (h *results) weight(from int) int {
	seen, n := map[*kept]bool{}, 0
	for _, r := range h.all[from:] {
		for _, k := range r.kept {
			if !seen[k] {
				seen[k] = true
				n += k.bytes.size
			}
		}
	}
	return n
}

func (h *results) get(id string) (*result, bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, r := range h.all {
		if r.id == id {
			return r, true
		}
	}
	return nil, false
}

// list gives the results, the newest first.
func (h *results) list() []*result {
	h.mu.Lock()
	defer h.mu.Unlock()
	out := slices.Clone(h.all)
	slices.Reverse(out)
	return out
}
