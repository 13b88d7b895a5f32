package message

// In the package itself: the reference is built from the unexported form of a
// field.

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/pd"
	"portside/testdata/negotiations"
)

// The line as a struct for encoding/json.
type referenceLine struct {
	TimeS    float64          `json:"time_s"`
	SOP      string           `json:"sop"`
	CRCOK    *bool            `json:"crc_ok"`
	Repeat   bool             `json:"repeat"`
	Header   *referenceHeader `json:"header"`
	Objects  []any            `json:"objects"`
	Text     string           `json:"text"`
	Problems []string         `json:"problems"`
}

type referenceHeader struct {
	Raw       string             `json:"raw"`
	Type      string             `json:"type"`
	Class     string             `json:"class"`
	MessageID int                `json:"message_id"`
	Objects   int                `json:"objects"`
	Revision  string             `json:"revision"`
	PowerRole *string            `json:"power_role"`
	DataRole  *string            `json:"data_role"`
	CablePlug *bool              `json:"cable_plug"`
	Extended  bool               `json:"extended"`
	Block     *referenceExtended `json:"extended_header"`
}

type referenceExtended struct {
	Raw          string `json:"raw"`
	Chunked      bool   `json:"chunked"`
	ChunkNumber  int    `json:"chunk_number"`
	RequestChunk bool   `json:"request_chunk"`
	DataSize     int    `json:"data_size"`
}

func reference(l *Line) referenceLine {
	out := referenceLine{
		TimeS: float64(l.At) / 1e9, SOP: l.SOP, Repeat: l.Repeat, Objects: []any{}, Text: l.Text(), Problems: []string{},
	}
	if l.CRC != NoCRC {
		right := l.CRC == RightCRC
		out.CRCOK = &right
	}
	if l.Header.Present {
		out.Header = referenceOf(l.Header)
	}
	for i := range l.Objects {
		out.Objects = append(out.Objects, referenceObject(&l.Objects[i]))
	}
	out.Problems = append(out.Problems, l.Problems...)
	return out
}

func referenceOf(h Header) *referenceHeader {
	f := h.Raw.Fields()
	out := &referenceHeader{
		Raw: fmt.Sprintf("0x%04X", uint16(h.Raw)), Type: h.Raw.Type().String(), Class: h.Raw.Class().String(),
		MessageID: f.MessageID, Objects: f.Objects, Revision: f.Revision.String(), Extended: h.Raw.Extended(),
	}
	if h.Set == pd.SOP {
		power, data := f.PowerRole.String(), f.DataRole.String()
		out.PowerRole, out.DataRole = &power, &data
	} else {
		plug := h.Raw.CablePlug()
		out.CablePlug = &plug
	}
	if h.Block {
		x := h.Extended.Fields()
		out.Block = &referenceExtended{fmt.Sprintf("0x%04X", uint16(h.Extended)), x.Chunked, x.ChunkNumber, x.RequestChunk, x.DataSize}
	}
	return out
}

// referenceObject is a struct with a member for each field, made for the
// occasion.
func referenceObject(o *Object) any {
	members := []reflect.StructField{
		{Name: "Raw", Type: reflect.TypeFor[string](), Tag: `json:"raw"`},
		{Name: "Kind", Type: reflect.TypeFor[string](), Tag: `json:"kind"`},
	}
	raw := fmt.Sprintf("0x%08X", o.Raw)
	if o.Kind.IsBlock() {
		raw = "0x" + strings.ToUpper(fmt.Sprintf("%x", o.Block))
	}
	values := []any{raw, o.Name()}
	for i, f := range o.AppendFields(nil) {
		members = append(members, reflect.StructField{
			Name: fmt.Sprintf("F%d", i), Type: reflect.TypeFor[any](), Tag: reflect.StructTag(`json:"` + f.Name + `"`),
		})
		values = append(values, referenceValue(f))
	}
	v := reflect.New(reflect.StructOf(members)).Elem()
	for i, x := range values {
		if x != nil {
			v.Field(i).Set(reflect.ValueOf(x))
		}
	}
	return v.Interface()
}

func referenceValue(f Field) any {
	switch f.form {
	case formNull:
		return nil
	case formNumber:
		return f.number
	case formThousandths:
		return float64(f.number) / 1000
	case formFlag:
		return f.number != 0
	case formHex4:
		return fmt.Sprintf("0x%04X", f.number)
	case formHex8:
		return fmt.Sprintf("0x%08X", f.number)
	default:
		return f.word
	}
}

func requireSameJSON(t *testing.T, l *Line) {
	t.Helper()
	var want bytes.Buffer
	e := json.NewEncoder(&want)
	e.SetEscapeHTML(false)
	require.NoError(t, e.Encode(reference(l)))
	require.Equal(t, "before\n"+want.String(), string(l.AppendJSON([]byte("before\n")))+"\n")
}

// TestJSONIsEncodingJSON: byte by byte what encoding/json writes of a struct
// with the same members, for every recorded message.
func TestJSONIsEncodingJSON(t *testing.T) {
	lists, err := filepath.Glob("../../captures/demo/recordings/*/messages.csv*")
	require.NoError(t, err)
	require.NotEmpty(t, lists)
	n := 0
	for _, path := range lists {
		f, err := os.Open(path)
		require.NoError(t, err)
		in, err := captures.Open(path, f, captures.Options{})
		var empty *captures.UnusableError
		if errors.As(err, &empty) {
			continue
		}
		require.NoError(t, err)
		d := NewDecoder()
		rec := captures.NewRecording([]captures.RecordingInput{{Input: in}})
		for {
			r, err := rec.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err)
			requireSameJSON(t, d.Decode(r.Message))
			n++
		}
		require.NoError(t, f.Close())
	}
	for _, m := range publishedMessages(t) {
		requireSameJSON(t, NewDecoder().Decode(&m.message))
		n++
	}
	logs, err := negotiations.Read()
	require.NoError(t, err)
	for _, log := range logs {
		list, err := log.Messages(true)
		require.NoError(t, err)
		d := NewDecoder()
		for i := range list {
			requireSameJSON(t, d.Decode(&list[i].Message))
			n++
		}
	}
	assert.Greater(t, n, 300)
}

// TestJSONOfRandomMessages reaches the kinds that nobody recorded.
func TestJSONOfRandomMessages(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	d := NewDecoder()
	seen := map[Kind]bool{}
	for range 20000 {
		m := randomMessage(rng)
		l := d.Decode(&m)
		requireSameJSON(t, l)
		for i := range l.Objects {
			seen[l.Objects[i].Kind] = true
		}
	}
	for k := range KindOtherBlock {
		assert.True(t, seen[k], "kind %s", kindNames[k])
	}
}

func randomMessage(rng *rand.Rand) captures.Message {
	m := captures.Message{
		At: time.Duration(rng.Int64N(1 << rng.IntN(62))), Set: pd.OrderedSet(1 + rng.IntN(7)),
		Status: captures.Status(rng.IntN(3)), HasCRC: rng.IntN(4) == 0,
	}
	if rng.IntN(2) == 0 {
		m.Set, m.Status = pd.SOP, captures.StatusNone
	}
	h := pd.HeaderFields{
		Type: pd.NewMessageType(pd.Class(rng.IntN(3)), rng.IntN(32)), Objects: rng.IntN(8),
		MessageID: rng.IntN(8), Revision: pd.Revision(1 + rng.IntN(4)), PowerRole: pd.PowerRole(1 + rng.IntN(2)), CablePlug: rng.IntN(2) == 0,
	}
	if m.Set == pd.CableReset || m.Set == pd.HardReset {
		return m
	}
	if h.Type.Class() != pd.Control {
		h.Objects = max(h.Objects, 1)
	}
	if h.Type.Class() != pd.Extended && rng.IntN(3) == 0 {
		h.Type, h.Objects = pd.VendorDefined, 1+rng.IntN(7)
	}
	header := h.Encode()
	if m.Set != pd.SOP {
		header = h.Encode()&^(1<<8) | pd.Header(one(h.CablePlug)<<8)
	}
	b := binary.LittleEndian.AppendUint16(nil, uint16(header))
	if h.Type.Class() == pd.Extended {
		size := rng.IntN(40)
		x := pd.ExtendedHeaderFields{Chunked: rng.IntN(3) > 0, DataSize: size, ChunkNumber: rng.IntN(2) * rng.IntN(3), RequestChunk: rng.IntN(9) == 0}
		b = binary.LittleEndian.AppendUint16(b, uint16(x.Encode()))
		mask := byte(0xFF * rng.IntN(2)) // zeros are the unused positions of EPR capabilities
		for range size {
			b = append(b, byte(rng.Uint32())&mask)
		}
		m.Bytes = b
		return m
	}
	for i := range h.Objects {
		w := rng.Uint32() >> (8 * rng.IntN(2))
		switch {
		case h.Type == pd.VendorDefined && i == 0 && rng.IntN(2) == 0:
			w = 0xFF008041 | uint32(rng.IntN(4))<<13 | uint32(rng.IntN(4))
		case (h.Type == pd.Request || h.Type == pd.EPRRequest) && i == 0:
			w = w&0x0FFFFFFF | uint32(1+rng.IntN(7))<<28
		}
		b = binary.LittleEndian.AppendUint32(b, w)
	}
	m.Bytes = b
	return m
}

// TestSecondsAreTheRecorders: what JSON gets is what the recorder wrote.
func TestSecondsAreTheRecorders(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "0", 1: "1e-9", 999: "9.99e-7", 1000: "0.000001", 1500 * time.Millisecond: "1.5", 6089248 * time.Microsecond: "6.089248",
		-time.Millisecond: "-0.001", 999_999*time.Second + 999_999_999: "999999.999999999", 1_750_000_000*time.Second + 123_456*time.Microsecond: "1750000000.123456",
	} {
		assert.Equal(t, want, string(appendSeconds(nil, d)))
	}
	rng := rand.New(rand.NewPCG(1, 1))
	for range 100000 {
		d := time.Duration(rng.Int64N(1<<(1+rng.IntN(62)))) * time.Duration(1-2*rng.IntN(2))
		want, err := json.Marshal(float64(d) / 1e9)
		require.NoError(t, err)
		require.Equal(t, string(want), string(appendSeconds(nil, d)), d)
	}
}

// FuzzText: any string is written as encoding/json writes it.
func FuzzText(f *testing.F) {
	for _, s := range []string{"plain", "q\"uo\\te", "\x00\x1f\b\f\n\r\t\x7f", "\u2028\u2029é漢😀", "\xff\xc0a\xe2\x80", "<&>"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		var want bytes.Buffer
		e := json.NewEncoder(&want)
		e.SetEscapeHTML(false)
		require.NoError(t, e.Encode(s))
		require.Equal(t, want.String(), string(appendText(nil, s))+"\n")
		require.Equal(t, want.String(), string(appendText(nil, []byte(s)))+"\n")
	})
}

// published is a message that a document or a log states in full.
type published struct {
	message captures.Message
	kind    string // the type it is said to be
	crcOK   *bool
	meaning string
	source  string
}

// publishedMessages reads the messages of testdata/pd that are given as bytes.
func publishedMessages(t *testing.T) (out []published) {
	t.Helper()
	raw, err := fs.ReadFile(os.DirFS("../../testdata/pd"), "recorded_examples.json")
	require.NoError(t, err)
	var all struct {
		Messages []struct {
			SOP, Type, Meaning, Source string
			Bytes, CRC                 *string
			CRCOK                      *bool `json:"crc_ok"`
		}
	}
	require.NoError(t, json.Unmarshal(raw, &all))
	for _, e := range all.Messages {
		if e.Bytes == nil {
			continue
		}
		set, ok := pd.ParseOrderedSet(e.SOP)
		require.True(t, ok)
		m := captures.Message{Set: set}
		_, err := fmt.Sscanf(*e.Bytes, "%x", &m.Bytes)
		require.NoError(t, err)
		if e.CRC != nil {
			var crc []byte
			_, err := fmt.Sscanf(*e.CRC, "%x", &crc)
			require.NoError(t, err)
			m.HasCRC = true
			copy(m.CRC[:], crc)
		}
		out = append(out, published{m, e.Type, e.CRCOK, e.Meaning, e.Source})
	}
	return out
}
