package main

import (
	"bufio"
	"fmt"

	"github.com/spf13/cobra"

	"portside/captures"
	"portside/cmd/portside/text"
	"portside/decode/message"
	"portside/pd"
)

func newDecode(s *streams) *cobra.Command {
	o := &recordingFlags{}
	cmd := &cobra.Command{
		Use:   "decode FILE...",
		Short: "lists every message of a recording",
		Long: `Lists every message of a recording, one line each: when, how long after the one
before, who speaks to whom, and what it says. FILE may be - for standard input,
or demo:NAME.`,
		Example: `  portside decode demo:hard-short-main-rail
  portside decode messages.csv
  portside decode --json messages.csv`,
		ValidArgsFunction: completeFiles,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usage("decode needs a FILE, or - for standard input; see portside decode --help")
			}
			return listMessages(cmd, s, o, args)
		},
	}
	o.add(cmd)
	cmd.Flags().BoolVar(&o.noColor, "no-color", false, "no colour on a terminal")
	return cmd
}

// listMessages prints the messages as they are read.
func listMessages(cmd *cobra.Command, s *streams, o *recordingFlags, args []string) error {
	rec, err := openRecording(o, s, args)
	if err != nil {
		return err
	}
	defer rec.close()
	list := newMessageList(s, o)
	var failed error
	err = rec.each(cmd.Context(), func(r captures.Record) {
		if r.Message != nil && failed == nil {
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
	case list.n == 0:
		return rec.without("messages")
	case rec.unread:
		return &failure{status: exitInput, told: true}
	default:
		return nil
	}
}

// messageList prints messages for people or as JSON, one object a line.
type messageList struct {
	decoder *message.Decoder
	page    *text.Messages // nil for JSON
	out     *bufio.Writer
	json    []byte // of one line, reused
	n       int
}

func newMessageList(s *streams, o *recordingFlags) *messageList {
	l := &messageList{decoder: message.NewDecoder(), out: bufio.NewWriter(s.out)}
	if !o.json {
		l.page = text.NewMessages(l.out, s.look(o.noColor))
	}
	return l
}

func (l *messageList) add(m *captures.Message) error {
	l.n++
	line := l.decoder.Decode(m)
	if l.page == nil {
		l.json = append(line.AppendJSON(l.json[:0]), '\n')
		_, err := l.out.Write(l.json)
		return err
	}
	return l.page.Add(text.MessageLine{
		AtS:      message.Seconds(line.At),
		Attach:   m.Marker == captures.Attach,
		Who:      who(line),
		Text:     line.Text(),
		Problems: line.Problems,
	})
}

func (l *messageList) close() error {
	if l.page != nil {
		if err := l.page.Close(); err != nil {
			return err
		}
	}
	return l.out.Flush()
}

// who says who speaks to whom.
func who(l *message.Line) string {
	if plug, ok := l.Header.Plug(); ok && l.Header.Present {
		if plug {
			return "cable -> port"
		}
		return "port -> cable"
	}
	switch l.From {
	case pd.Source:
		return "source -> sink"
	case pd.Sink:
		return "sink -> source"
	default:
		return ""
	}
}
