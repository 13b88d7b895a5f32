package pd

// The bit tables of the standard are written as "upper bit to lower bit" of a 32-bit
// object; these read and write them in those words.

// bits reads bits hi to lo of w.
func bits(w uint32, hi, lo uint) int { return int(w >> lo & (1<<(hi-lo+1) - 1)) }

// bit reads bit n of w.
func bit(w uint32, n uint) bool { return w>>n&1 == 1 }

// put places v into bits hi to lo; what does not fit is lost.
func put(v int, hi, lo uint) uint32 { return uint32(v) & (1<<(hi-lo+1) - 1) << lo }

// flag places b into bit n.
func flag(b bool, n uint) uint32 {
	if b {
		return 1 << n
	}
	return 0
}
