package message

// jsonCache keeps the JSON of headers and objects. A recording says the same
// few again and again, and copying what was written before is several times
// faster than writing it. It is as large as it is and forgets what collides.
type jsonCache struct {
	slots [cacheSlots]cacheSlot
}

// cacheSlots holds what one connection says: eight MessageIDs of a dozen
// messages and the objects of two offers, several times over.
const cacheSlots = 512

// What a key is about stands in its upper bits, so that no key is 0.
const (
	headerKey = 1 << 62
	objectKey = 1 << 63
)

// cacheSlot is one place of the cache.
type cacheSlot struct {
	key  uint64
	json []byte
}

// at is the place of a key, which may be taken by another one.
func (c *jsonCache) at(key uint64) *cacheSlot {
	const spread = 0x9E3779B97F4A7C15 // the golden ratio: neighbouring keys fall far apart
	return &c.slots[key*spread>>32%cacheSlots]
}

func (s *cacheSlot) keep(key uint64, json []byte) { s.key, s.json = key, append(s.json[:0], json...) }
