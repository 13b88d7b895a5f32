package message

import (
	"cmp"
	"slices"

	"portside/pd"
)

// AppendDetail appends everything that stands in the object, upper bits first:
// its fields, the bits that tell its kind, and reserved bits that are not 0. Of
// a block the bytes go upwards.
func (o *Object) AppendDetail(list []Field) []Field {
	from := len(list)
	list = o.AppendFields(list)
	if o.Kind.IsBlock() {
		slices.SortStableFunc(list[from:], func(a, b Field) int { return cmp.Compare(a.Low, b.Low) })
		return list
	}
	if o.Kind == KindSupply || o.Kind == KindSinkSupply {
		list = append(list, kindField(o))
	}
	list = o.reserved(list, from)
	slices.SortStableFunc(list[from:], func(a, b Field) int { return cmp.Compare(b.High, a.High) })
	return list
}

// kindField are bits 31 and 30, for augmented objects down to 28 (USB PD R3.2
// V1.1, tables 6.7 and 6.8).
func kindField(o *Object) Field {
	low := 30
	switch pd.PDO(o.Raw).Kind() {
	case pd.KindPPS, pd.KindEPRAVS, pd.KindSPRAVS, pd.KindReserved:
		low = 28
	}
	return Field{Name: "kind", High: 31, Low: low, form: formWord, word: o.Name()}
}

// reserved appends the bits that no field stands in and that are not 0, run by
// run.
func (o *Object) reserved(list []Field, from int) []Field {
	var read uint32
	for _, f := range list[from:] {
		read |= mask(f.High, f.Low)
	}
	name := "reserved"
	switch o.Kind {
	case KindRequest, KindVDO, KindMode, KindOther:
		name = "not_read" // it means something, but not to the standard or not without the offer
	}
	l := fieldList(list)
	for high := 31; high >= 0; high-- {
		if read>>high&1 == 1 {
			continue
		}
		low := high
		for low > 0 && read>>(low-1)&1 == 0 {
			low--
		}
		if v := (o.Raw & mask(high, low)) >> low; v != 0 {
			l.hex8(name, high, low, v)
		}
		high = low
	}
	return l
}

// mask has the bits high to low set.
func mask(high, low int) uint32 { return uint32(1<<(high-low+1)-1) << low }
