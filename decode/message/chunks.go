package message

import (
	"time"

	"portside/pd"
)

// Chunks puts the data blocks of extended messages together from the chunks
// they travel in, for both directions of every ordered set, in whatever order
// the chunks come. It keeps a fixed amount of memory. The zero value is ready.
type Chunks struct {
	parts [lastSet][senders][openBlocks]assembly
}

// openBlocks is how many blocks of different messages may be under way from one
// sender: the standard allows one, and one more keeps a recording readable
// whose sender began the next before the last was done.
const openBlocks = 2

// staleAfter is when a block without its next chunk is given up. The partner
// has tChunkSenderRequest and tChunkSenderResponse, 60 ms together; the rest is
// for coarse and software stamps.
const staleAfter = 2 * time.Second

// chunkNumbers is how many chunk numbers the extended header can tell apart.
const chunkNumbers = 16

// assembly is one block under way. The zero value is unused.
type assembly struct {
	kind  pd.MessageType
	size  int
	have  uint16 // bit n: chunk n is here
	whole bool   // nothing is missing; kept for a repeat of its chunks
	last  time.Duration
	block [chunkNumbers * pd.MaxExtendedMsgChunkLen]byte
}

// Part says what one packet brought of a block.
type Part struct {
	Block     []byte         // the whole block, valid until the next Take; nil while it is not whole
	Missing   int            // the first chunk still missing, -1 for none
	Abandoned pd.MessageType // a block that this packet shows will never be whole; 0 for none
	Lost      int            // the first chunk that one lacks
}

// Take adds the packet at a time. from tells the two ends of the set apart,
// again says that the packet is only said again. A packet that is no part of a
// block, and a chunk that is cut short or lies outside its block, changes
// nothing.
func (c *Chunks) Take(p pd.Message, from pd.PowerRole, at time.Duration, again bool) Part {
	if p.Set >= lastSet || from >= senders {
		return Part{Missing: -1}
	}
	return slot(&c.parts[p.Set][from], p.Type()).take(p, at, again)
}

// take adds a packet of one sender.
func (a *assembly) take(p pd.Message, at time.Duration, again bool) Part {
	none := Part{Missing: -1}
	x, ok := p.ExtendedHeader()
	if !ok || x.RequestChunk() {
		return none
	}
	here := p.Block()
	if !x.Chunked() {
		if len(here) == x.DataSize() {
			none.Block = here
		}
		return none
	}
	n := x.ChunkNumber()
	if wanted := chunkLen(x.DataSize(), n); wanted < 0 || len(here) != wanted {
		return none
	}
	if again && a.whole && a.continues(p.Type(), x.DataSize(), n, here, at) {
		none.Block = a.block[:a.size]
		return none
	}
	return a.add(p.Type(), x.DataSize(), n, here, at)
}

// chunkLen is the length of chunk n of a block, -1 where the block has none.
func chunkLen(size, n int) int {
	at := n * pd.MaxExtendedMsgChunkLen
	if at >= size && n > 0 {
		return -1
	}
	return min(size-at, pd.MaxExtendedMsgChunkLen)
}

func (a *assembly) add(kind pd.MessageType, size, n int, part []byte, at time.Duration) Part {
	out := Part{Missing: -1}
	if a.open() && !a.continues(kind, size, n, part, at) {
		out.Abandoned, out.Lost = a.kind, a.missing()
		a.have = 0
	}
	if a.whole {
		a.have, a.whole = 0, false
	}
	a.kind, a.size, a.last = kind, size, at
	a.have |= 1 << n
	copy(a.block[n*pd.MaxExtendedMsgChunkLen:], part)
	if out.Missing = a.missing(); out.Missing < 0 {
		out.Block, a.whole = a.block[:size], true
	}
	return out
}

// open reports a block that still waits for a chunk.
func (a *assembly) open() bool { return a.have != 0 && !a.whole }

// slot is the place of a message's block: its own, a free one, or the oldest.
func slot(list *[openBlocks]assembly, kind pd.MessageType) *assembly {
	best := &list[0]
	for i := range list {
		a := &list[i]
		switch {
		case a.have != 0 && a.kind == kind:
			return a
		case best.open() && (!a.open() || a.last < best.last):
			best = a
		}
	}
	return best
}

// continues reports whether a chunk belongs to the block under way. One that
// is here already must be the same again.
func (a *assembly) continues(kind pd.MessageType, size, n int, part []byte, at time.Duration) bool {
	if a.kind != kind || a.size != size || at-a.last > staleAfter {
		return false
	}
	start := n * pd.MaxExtendedMsgChunkLen
	return a.have>>n&1 == 0 || string(a.block[start:start+len(part)]) == string(part)
}

// missing is the first chunk that is not here, -1 for none.
func (a *assembly) missing() int {
	for n := range chunkNumbers {
		if n > 0 && n*pd.MaxExtendedMsgChunkLen >= a.size {
			return -1
		}
		if a.have>>n&1 == 0 {
			return n
		}
	}
	return chunkNumbers // the block is larger than sixteen chunks can carry
}

// Forget drops every block under way, as a reset or a detach does.
func (c *Chunks) Forget() { *c = Chunks{} }
