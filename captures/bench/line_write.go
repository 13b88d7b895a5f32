package bench

import (
	"io"
	"time"

	cc "portside/captures/line"
)

// WriteLineVCD writes what the CC line carried, GoodCRC and all, as a logic
// recorder shows it, on the clock of the message list. A clock that reads less
// than 0 where the recording begins is written from 0 on: a dump has no times
// before it.
func (r *Run) WriteLineVCD(w io.Writer) error {
	p := &r.Scenario.Parameters
	from, to := duration(p.MessagesFromS), duration(p.DurationS)
	offset := duration(p.MessagesStartS)
	if from+offset < 0 {
		offset = -from
	}
	v := cc.NewVCDWriter(w, "cc", from+offset)
	for _, m := range r.frames {
		if m.At < from || m.End > to {
			continue
		}
		f := cc.Frame{At: m.At + offset, End: m.End + offset, Set: m.Set, Bytes: m.Bytes, CRC: m.CRC}
		if err := v.Write(f); err != nil {
			return err
		}
	}
	const rest = time.Millisecond // past the last edge of a frame that ends with the recording
	return v.Close(to + offset + rest)
}
