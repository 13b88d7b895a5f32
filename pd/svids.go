package pd

// SVIDsVDO is an object of a Discover SVIDs answer after its header: two SVIDs (layout as in
// the Linux 6.1 headers).
//
//	31-16  SVID n
//	15-0   SVID n+1; 0000h ends the list
//
// A message holds six of these objects. A list of twelve SVIDs without the 0000h goes on
// in the answer to the next Discover SVIDs.
type SVIDsVDO uint32

// SVIDs are the two SVIDs in the order of the list; 0000h is its end.
func (o SVIDsVDO) SVIDs() [2]uint16 { return [2]uint16{uint16(o >> 16), uint16(o)} }

// NewSVIDsVDO puts the object together.
func NewSVIDsVDO(first, second uint16) SVIDsVDO {
	return SVIDsVDO(uint32(first)<<16 | uint32(second))
}
