package main

import (
	"bufio"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"portside/captures"
	"portside/cmd/portside/text"
	"portside/decode/message"
	"portside/pd"
)

// decodeFlags are the flags of decode.
type decodeFlags struct {
	recordingFlags
	detail    bool
	sequences bool
	frame     int // 1-based, 0 for all
}

func newDecode(s *streams) *cobra.Command {
	o := &decodeFlags{}
	cmd := &cobra.Command{
		Use:   "decode FILE...",
		Short: "lists every message of a recording",
		Long: `Lists every message of a recording, one line each: when, how long after the end
of the one before, who speaks, what it says and, where the standard limits the
wait before it, the limit and whether it was kept. With --sequences it lists
what the messages were about: offers and contracts, swaps, resets, identity.
--frame N draws the N-th message of a recording of the line itself.
FILE may be - for standard input, or demo:NAME.`,
		Example: `  portside decode demo:hard-short-main-rail
  portside decode --detail messages.csv
  portside decode --sequences messages.csv
  portside decode --json messages.csv
  portside decode line.vcd --frame 2`,
		ValidArgsFunction: completeFiles,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usage("decode needs a FILE, or - for standard input; see portside decode --help")
			}
			if cmd.Flags().Changed("frame") {
				return showFrame(cmd, s, o, args)
			}
			if o.detail && o.sequences {
				return usage("--detail shows messages and --sequences what they belong to: give one of them")
			}
			return listMessages(cmd, s, o, args)
		},
	}
	o.add(cmd)
	cmd.Flags().Var(&o.rate, "rate", "samples a second of a line without a time column")
	cmd.Flags().BoolVar(&o.noColor, "no-color", false, "no colour on a terminal")
	cmd.Flags().BoolVar(&o.detail, "detail", false, "every message field by field, with the bits")
	cmd.Flags().IntVar(&o.frame, "frame", 0, "the `N`-th message of a line recording, bit by bit")
	cmd.Flags().BoolVar(&o.sequences, "sequences", false, "what belongs together, with its outcome")
	return cmd
}

// messageLister prints what it is given as it comes.
type messageLister interface {
	add(m *captures.Message) error
	close() error
}

func newLister(s *streams, o *decodeFlags) messageLister {
	out := bufio.NewWriterSize(s.out, outputBuffer)
	decoder := message.NewDecoder()
	switch {
	case o.sequences && o.json:
		return &sequenceJSON{decoder: decoder, out: out}
	case o.sequences:
		return &sequenceText{decoder: decoder, page: text.NewSequences(out, s.look(o.noColor)), out: out}
	case o.json:
		return &messageJSON{decoder: decoder, out: s.out}
	default:
		return &messageText{decoder: decoder, timing: message.NewTiming(), page: text.NewMessages(out, s.look(o.noColor)), out: out, detail: o.detail}
	}
}

// outputBuffer holds some hundred lines, so that the system is called rarely.
const outputBuffer = 64 << 10

// listMessages prints the messages as they are read.
func listMessages(cmd *cobra.Command, s *streams, o *decodeFlags, args []string) error {
	rec, err := openRecording(&o.recordingFlags, s, args)
	if err != nil {
		return err
	}
	defer rec.close()
	list, n := newLister(s, o), 0
	var failed error
	err = rec.each(cmd.Context(), func(r captures.Record) {
		if r.Message != nil && failed == nil {
			n++
			failed = list.add(r.Message)
		}
	})
	if failed == nil {
		failed = list.close()
	}
	rec.tellSkipped(s)
	switch {
	case failed != nil:
		return fmt.Errorf("the result could not be written: %w", failed)
	case err != nil:
		return err
	case n == 0:
		return rec.without("messages")
	case rec.unread:
		return &failure{status: exitInput, told: true}
	default:
		return nil
	}
}

// messageJSON prints one object a line. It gathers the lines itself: a writer
// in between would copy each of them once more.
type messageJSON struct {
	decoder *message.Decoder
	out     io.Writer
	lines   []byte
}

func (l *messageJSON) add(m *captures.Message) error {
	l.lines = append(l.decoder.Decode(m).AppendJSON(l.lines), '\n')
	if len(l.lines) < outputBuffer {
		return nil
	}
	return l.close()
}

func (l *messageJSON) close() error {
	_, err := l.out.Write(l.lines)
	l.lines = l.lines[:0]
	return err
}

// messageText prints one line a message, and its fields where asked for.
type messageText struct {
	decoder *message.Decoder
	timing  *message.Timing
	page    *text.Messages
	out     *bufio.Writer
	detail  bool
	spoken  int  // messages on SOP that want a GoodCRC
	heard   bool // a GoodCRC is there
	seen    bool // the Attach is there
	inside  bool // the first message is not how a connection begins
}

func (l *messageText) add(m *captures.Message) error {
	line := l.decoder.Decode(m)
	l.seen = l.seen || m.Marker == captures.Attach
	l.look(line)
	shown := text.MessageLine{
		At: line.At, End: line.End, Attach: m.Marker == captures.Attach, Who: who(line), Text: line.Text(), Problems: line.Problems,
	}
	if limit, ok := l.timing.Add(line, m); ok {
		shown.Limit = &limit
	}
	if l.detail {
		shown.Parts = parts(line)
	}
	return l.page.Add(shown)
}

// look keeps what the notes at the end are about. A connection begins with
// capabilities of MessageID 0.
func (l *messageText) look(line *message.Line) {
	switch h := line.Header; {
	case !h.Present:
	case h.Type() == pd.GoodCRC:
		l.heard = true
	case h.Set == pd.SOP:
		if l.spoken == 0 {
			l.inside = !l.seen && (h.Type() != pd.SourceCapabilities || h.Raw.MessageID() != 0)
		}
		l.spoken++
	}
}

func (l *messageText) close() error {
	if l.spoken > 0 && !l.heard {
		l.page.Note("there is no GoodCRC in this recording: its recorder does not show them, so what was acknowledged is not known.")
	}
	if l.inside {
		l.page.Note("the recording begins inside a connection: what was said before is not known.")
	}
	if err := l.page.Close(); err != nil {
		return err
	}
	return l.out.Flush()
}

// parts takes a line apart: header, extended header, objects.
func parts(l *message.Line) []text.MessagePart {
	if !l.Header.Present {
		return nil
	}
	list := []text.MessagePart{{Name: fmt.Sprintf("header 0x%04X", uint16(l.Header.Raw)), Fields: l.Header.AppendFields(nil)}}
	if l.Header.Block {
		list = append(list, text.MessagePart{
			Name: fmt.Sprintf("extended header 0x%04X", uint16(l.Header.Extended)), Fields: l.Header.AppendExtendedFields(nil),
		})
	}
	for i := range l.Objects {
		o := &l.Objects[i]
		part := text.MessagePart{Block: o.Kind.IsBlock(), Fields: o.AppendDetail(nil)}
		if part.Block {
			part.Name = fmt.Sprintf("block of %d bytes", len(o.Block))
		} else {
			part.Name = fmt.Sprintf("object %d 0x%08X", l.FirstPosition+i, o.Raw)
		}
		list = append(list, part)
	}
	return list
}

// sequenceText prints one line a sequence.
type sequenceText struct {
	decoder   *message.Decoder
	sequences message.Sequences
	page      *text.Sequences
	out       *bufio.Writer
}

func (l *sequenceText) add(m *captures.Message) error {
	attach := m.Marker == captures.Attach
	if !attach {
		l.page.Origin(m.At, false)
	}
	if err := l.print(l.sequences.Add(l.decoder.Decode(m), m)); err != nil {
		return err
	}
	if attach {
		l.page.Origin(m.At, true)
	}
	return nil
}

func (l *sequenceText) print(list []message.Sequence) error {
	for i := range list {
		if err := l.page.Add(&list[i]); err != nil {
			return err
		}
	}
	return nil
}

func (l *sequenceText) close() error {
	if err := l.print(l.sequences.Close()); err != nil {
		return err
	}
	if err := l.page.Close(); err != nil {
		return err
	}
	return l.out.Flush()
}

// sequenceJSON prints one object a sequence.
type sequenceJSON struct {
	decoder   *message.Decoder
	sequences message.Sequences
	out       *bufio.Writer
	line      []byte
}

func (l *sequenceJSON) add(m *captures.Message) error {
	return l.print(l.sequences.Add(l.decoder.Decode(m), m))
}

func (l *sequenceJSON) print(list []message.Sequence) error {
	for i := range list {
		l.line = append(list[i].AppendJSON(l.line[:0]), '\n')
		if _, err := l.out.Write(l.line); err != nil {
			return err
		}
	}
	return nil
}

func (l *sequenceJSON) close() error {
	if err := l.print(l.sequences.Close()); err != nil {
		return err
	}
	return l.out.Flush()
}

// who says who speaks.
func who(l *message.Line) string {
	if plug, ok := l.Header.Plug(); ok && l.Header.Present {
		switch near := l.Header.Set == pd.SOPPrime || l.Header.Set == pd.SOPPrimeDebug; {
		case plug && near:
			return "cable"
		case plug:
			return "far plug"
		case near:
			return "to cable"
		default:
			return "to far plug"
		}
	}
	switch l.From {
	case pd.Source:
		return "source"
	case pd.Sink:
		return "sink"
	default:
		return ""
	}
}
