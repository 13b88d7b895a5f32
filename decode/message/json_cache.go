package message

// jsonCache keeps the JSON of headers and objects, and supplies in words. A
// recording says the same few again and again, and copying what was written
// before is several times faster than writing it. It is as large as it is and forgets what collides.
type jsonCache struct {
	slots [cacheSlots]cacheSlot
}

// cacheSlots holds what one connection says: eight MessageIDs of a dozen
// messages and the objects of two offers, several times over.
const cacheSlots = 512

// What a key is about stands in its upper bits, so that no key is 0.
const (
	supplyKey = 1 << 61
	headerKey = 1 << 62
	objectKey = 1 << 63
)

// spread is the golden ratio: multiplied by it, neighbouring keys fall far apart.
const spread = 0x9E3779B97F4A7C15

// cacheSlot is one place of the cache.
type cacheSlot struct {
	key     uint64
	written []byte
}

// at is the place of a key, which may be taken by another one.
func (c *jsonCache) at(key uint64) *cacheSlot {
	return &c.slots[key*spread>>32%cacheSlots]
}

func (s *cacheSlot) keep(key uint64, written []byte) {
	s.key, s.written = key, append(s.written[:0], written...)
}
