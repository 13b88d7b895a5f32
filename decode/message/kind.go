package message

import "portside/pd"

// Kind is what a data object is read as.
type Kind uint8

// Kinds of objects. Further ones are added here, with their fields in
// object.go and their words in text.go.
const (
	KindOther  Kind = iota // a message whose objects are not taken apart yet
	KindSupply             // of a source; the kind of supply is in the object
	KindSinkSupply
	KindRequest // the offer it answers is not known
	KindRequestFixed
	KindRequestBattery
	KindRequestPPS
	KindRequestAVS
	KindVDMHeader
	KindVDO
	KindAlert
)

var kindNames = [...]string{
	KindOther:          "other",
	KindRequest:        "rdo",
	KindRequestFixed:   "rdo-fixed",
	KindRequestBattery: "rdo-battery",
	KindRequestPPS:     "rdo-pps",
	KindRequestAVS:     "rdo-avs",
	KindVDMHeader:      "vdm-header",
	KindVDO:            "vdo",
	KindAlert:          "alert",
}

// RequestKind is how a request for that offer is read; ok is false where the
// offer is not known or reserved.
func RequestKind(offer pd.PDO, known bool) Kind {
	if !known {
		return KindRequest
	}
	switch offer.Kind() {
	case pd.KindFixed, pd.KindVariable:
		return KindRequestFixed
	case pd.KindBattery:
		return KindRequestBattery
	case pd.KindPPS:
		return KindRequestPPS
	case pd.KindSPRAVS, pd.KindEPRAVS:
		return KindRequestAVS
	default:
		return KindRequest
	}
}

// objects reads the whole data objects of the message.
func (d *Decoder) objects(p pd.Message) []Object {
	out := make([]Object, p.NumObjects())
	for i := range out {
		o := Object{Raw: p.Object(i), Kind: KindOther, First: i == 0, Revision: d.revision}
		switch p.Type() {
		case pd.SourceCapabilities:
			o.Kind = KindSupply
		case pd.SinkCapabilities:
			o.Kind = KindSinkSupply
		case pd.Request:
			o.Kind = RequestKind(d.offers.For(p, d.revision))
		case pd.EPRRequest:
			// The second object is the copy of the offer asked for.
			o.Kind, o.First = KindSupply, pd.RDO(p.Object(0)).Position() == 1
			if i == 0 {
				o.Kind, o.First = RequestKind(d.offers.For(p, d.revision)), true
			}
		case pd.VendorDefined:
			o.Kind = KindVDO
			if i == 0 {
				o.Kind = KindVDMHeader
			}
		case pd.Alert:
			o.Kind = KindAlert
		}
		out[i] = o
	}
	return out
}
