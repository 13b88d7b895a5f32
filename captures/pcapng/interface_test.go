package pcapng

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// Source of if_tsresol and if_tsoffset: draft-ietf-opsawg-pcapng, section 4.2.
func TestTicksToTime(t *testing.T) {
	for _, tt := range []struct {
		name       string
		resolution byte
		offset     int64
		ticks      uint64
		want       time.Duration
		ok         bool
	}{
		{"microseconds", 6, 0, 1_500_000, 1500 * time.Millisecond, true},
		{"nanoseconds", 9, 0, 1_500_000_001, 1500*time.Millisecond + 1, true},
		{"seconds", 0, 0, 3, 3 * time.Second, true},
		{"milliseconds", 3, 0, 7, 7 * time.Millisecond, true},
		{"picoseconds, cut", 12, 0, 2_000_999, 2 * time.Microsecond, true},
		{"10^-28, all of 64 bits", 28, 0, math.MaxUint64, 1, true},
		{"10^-127", 127, 0, math.MaxUint64, 0, true},
		{"2^-1", 0x81, 0, 3, 1500 * time.Millisecond, true},
		// Half a second in a clock of 2^20 ticks; a clock that takes a tick
		// for 953 ns would be off by 333 us.
		{"2^-20", 0x94, 0, 1<<20 + 1<<19, 1500 * time.Millisecond, true},
		{"2^-32, one tick", 0xA0, 0, 1<<32 + 1, time.Second, true},
		{"2^-64", 0xC0, 0, 1 << 63, 500 * time.Millisecond, true},
		{"2^-127", 0xFF, 0, math.MaxUint64, 0, true},
		{"offset", 6, 1_700_000_000, 250_000, 1_700_000_000*time.Second + 250*time.Millisecond, true},
		{"offset below zero", 9, -2, 500_000_000, -1500 * time.Millisecond, true},
		{"the last moment", 9, 0, math.MaxInt64, math.MaxInt64, true},
		{"one beyond", 9, 0, math.MaxInt64 + 1, 0, false},
		{"beyond in seconds", 0, 0, math.MaxUint64, 0, false},
		{"beyond in 2^-1", 0x81, 0, math.MaxUint64, 0, false},
		{"beyond by the offset", 9, 1, math.MaxInt64, 0, false},
		{"an offset beyond", 9, math.MaxInt64, 0, 0, false},
		{"an offset before", 9, math.MinInt64, 0, 0, false},
	} {
		at, ok := clock{tt.resolution, tt.offset}.at(tt.ticks)
		assert.Equal(t, tt.ok, ok, tt.name)
		assert.Equal(t, tt.want, at, tt.name)
	}
}

// Whatever the resolution, the time is the exact quotient cut to nanoseconds,
// worked out here with numbers of any size.
func TestTicksAreExact(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	for range 20_000 {
		c := clock{resolution: byte(random.Uint32())}
		ticks := random.Uint64() >> random.UintN(64)
		base := big.NewInt(10)
		if c.resolution >= 0x80 {
			base.SetInt64(2)
		}
		unit := new(big.Int).Exp(base, big.NewInt(int64(c.resolution&0x7F)), nil)
		want := new(big.Int).SetUint64(ticks)
		want.Mul(want, big.NewInt(1e9)).Quo(want, unit)
		at, ok := c.at(ticks)
		assert.Equal(t, want.IsInt64(), ok)
		if ok {
			assert.Equal(t, want.Int64(), int64(at), "%d ticks at 0x%02X", ticks, c.resolution)
		}
	}
}
