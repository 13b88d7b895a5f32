package pd_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

func TestOrderedSetNames(t *testing.T) {
	// USB PD R3.2 V1.1, tables 5.5 to 5.9, 5.11 and 5.12.
	want := map[pd.OrderedSet]string{
		pd.SOP: "SOP", pd.SOPPrime: "SOP'", pd.SOPDoublePrime: "SOP''",
		pd.SOPPrimeDebug: "SOP'_Debug", pd.SOPDoublePrimeDebug: "SOP''_Debug",
		pd.HardReset: "Hard_Reset", pd.CableReset: "Cable_Reset",
	}
	for set, name := range want {
		assert.Equal(t, name, set.String())
		got, ok := pd.ParseOrderedSet(name)
		assert.True(t, ok)
		assert.Equal(t, set, got)
	}
	assert.Equal(t, "unknown", pd.OrderedSet(0).String())
	for _, name := range []string{"", "sop", "unknown", "Attach"} {
		_, ok := pd.ParseOrderedSet(name)
		assert.False(t, ok, name)
	}
}

func TestOrderedSetKinds(t *testing.T) {
	for s := pd.SOP; s <= pd.CableReset; s++ {
		assert.Equal(t, s == pd.HardReset || s == pd.CableReset, s.IsReset(), s.String())
		assert.Equal(t, s != pd.SOP && !s.IsReset(), s.ToCable(), s.String())
	}
}

func TestOrderedSetSymbols(t *testing.T) {
	vectors := standard(t).Phy.OrderedSets
	require.Len(t, vectors, 7)
	for _, v := range vectors {
		t.Run(v.Name, func(t *testing.T) {
			set := orderedSetOf(t, v.Name)
			k, ok := set.Symbols()
			require.True(t, ok)
			var names []string
			for _, s := range k {
				names = append(names, s.String())
			}
			assert.Equal(t, v.KCodes, names, v.Source)
			assert.Equal(t, v.Line, lineBits(k[:]), v.Source)
		})
	}
}

// The vectors write the resets with a blank.
func orderedSetOf(t *testing.T, name string) pd.OrderedSet {
	t.Helper()
	switch name {
	case "Hard Reset":
		return pd.HardReset
	case "Cable Reset":
		return pd.CableReset
	}
	set, ok := pd.ParseOrderedSet(name)
	require.True(t, ok, name)
	return set
}

// Three of four K-codes may be accepted, two never (USB PD R3.2 V1.1, table 5.3). Every
// set with an unreadable symbol in every place.
func TestRecogniseOrderedSet(t *testing.T) {
	for set := pd.SOP; set <= pd.CableReset; set++ {
		k, _ := set.Symbols()
		got, n := pd.RecogniseOrderedSet(k)
		assert.Equal(t, set, got)
		assert.Equal(t, 4, n)
		for place := range 4 {
			damaged := k
			damaged[place] = 0
			got, n = pd.RecogniseOrderedSet(damaged)
			assert.Equal(t, set, got)
			assert.Equal(t, 3, n)
			damaged[(place+1)%4] = pd.EOP
			got, n = pd.RecogniseOrderedSet(damaged)
			assert.Zero(t, got)
			assert.Zero(t, n)
		}
	}
}

// Whatever four symbols are received, a set is recognised only where no other is as
// near: two sets that share two places leave room for one wrong symbol between them.
func TestRecogniseOrderedSetIsNeverAmbiguous(t *testing.T) {
	codes := []pd.Symbol{pd.Sync1, pd.Sync2, pd.Sync3, pd.RST1, pd.RST2, pd.EOP}
	agree := func(set pd.OrderedSet, k [4]pd.Symbol) (n int) {
		want, _ := set.Symbols()
		for i := range k {
			if k[i] == want[i] {
				n++
			}
		}
		return n
	}
	ambiguous := 0
	for i := range len(codes) * len(codes) * len(codes) * len(codes) {
		k := [4]pd.Symbol{codes[i%6], codes[i/6%6], codes[i/36%6], codes[i/216]}
		var near []pd.OrderedSet
		exact := false
		for set := pd.SOP; set <= pd.CableReset; set++ {
			switch agree(set, k) {
			case 4:
				near, exact = []pd.OrderedSet{set}, true
			case 3:
				if !exact {
					near = append(near, set)
				}
			}
		}
		got, n := pd.RecogniseOrderedSet(k)
		if len(near) != 1 {
			assert.Zero(t, got, "%v", k)
			if len(near) > 1 {
				ambiguous++
			}
			continue
		}
		assert.Equal(t, near[0], got, "%v", k)
		assert.Equal(t, agree(near[0], k), n)
	}
	assert.Positive(t, ambiguous)
	got, _ := pd.RecogniseOrderedSet([4]pd.Symbol{pd.Sync1, pd.RST2, pd.Sync1, pd.Sync3})
	assert.Zero(t, got)
}

func TestSymbols(t *testing.T) {
	v := standard(t).Phy
	require.Len(t, v.Symbols, 16)
	require.Len(t, v.KCodes, 6)
	seen := map[uint8]bool{}
	for _, s := range v.Symbols {
		code := fromBinary(t, s.Code)
		seen[code] = true
		sym := pd.SymbolOf(code)
		assert.Equal(t, s.Nibble, sym.String(), s.Source)
		assert.Equal(t, s.Line, lineBits([]pd.Symbol{sym}), s.Source)
		n, ok := sym.Nibble()
		assert.True(t, ok)
		assert.Equal(t, sym, pd.NibbleSymbol(n))
	}
	for _, k := range v.KCodes {
		code := fromBinary(t, k.Code)
		seen[code] = true
		assert.Equal(t, k.Name, pd.SymbolOf(code).String(), k.Source)
		_, ok := pd.SymbolOf(code).Nibble()
		assert.False(t, ok)
	}
	for _, c := range v.Invalid.Codes {
		code := fromBinary(t, c)
		seen[code] = true
		assert.Zero(t, pd.SymbolOf(code), c)
	}
	assert.Len(t, seen, 32)
	assert.Zero(t, pd.SymbolOf(32))
}

func fromBinary(t *testing.T, s string) (v uint8) {
	t.Helper()
	for _, c := range s {
		v = v<<1 | uint8(c-'0')
	}
	return v
}

func lineBits(symbols []pd.Symbol) string {
	var b []byte
	for _, s := range symbols {
		for i := range 5 {
			b = append(b, '0'+s.Code()>>i&1)
		}
	}
	return string(b)
}
