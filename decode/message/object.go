package message

import "portside/pd"

// Object is one data object, or the whole block of an extended message. Its
// fields are taken from the word when they are asked for; pd has the typed
// views for every other use.
type Object struct {
	Raw      uint32 // the word; 0 for a block
	Block    []byte // the bytes of a block in the order of the wire, nil for a word; valid until the next Decode
	Kind     Kind
	First    bool        // at the first position, which alone carries flags
	Revision pd.Revision // of the pair, since it decides how a position is read
}

// Name is the kind as it is published, such as "fixed" or "rdo-pps".
func (o *Object) Name() string {
	switch o.Kind {
	case KindSupply:
		return pd.PDO(o.Raw).Kind().String()
	case KindSinkSupply:
		return pd.SinkPDO(o.Raw).Kind().String()
	default:
		return kindNames[o.Kind]
	}
}

// key tells words apart that are written differently.
func (o *Object) key() uint64 {
	return objectKey | uint64(one(o.First))<<48 | uint64(o.Revision)<<40 | uint64(o.Kind)<<32 | uint64(o.Raw)
}

// AppendFields appends the fields of the kind, none for one that is not taken
// apart. Of a block that is shorter than in any revision there is its size.
func (o *Object) AppendFields(list []Field) []Field {
	l := fieldList(list)
	if o.Kind.IsBlock() {
		if !l.block(o.Kind, o.Block) {
			l.opaque(o.Block)
		}
		return l
	}
	switch o.Kind {
	case KindSupply:
		l.supply(pd.PDO(o.Raw), o.First)
	case KindSinkSupply:
		l.sinkSupply(pd.SinkPDO(o.Raw), o.First)
	case KindRequest, KindRequestFixed, KindRequestBattery, KindRequestPPS, KindRequestAVS:
		l.request(o)
	case KindEPRMode:
		l.eprMode(pd.EPRMDO(o.Raw))
	case KindAlert:
		l.alert(pd.ADO(o.Raw))
	case KindBatteryStatus:
		l.batteryStatus(pd.BSDO(o.Raw))
	case KindRevision:
		l.revision(pd.RMDO(o.Raw))
	case KindSourceInfo:
		l.sourceInfo(pd.SIDO(o.Raw))
	case KindCountryCode:
		l.countryCode(pd.CCDO(o.Raw))
	case KindEnterUSB:
		l.enterUSB(pd.EUDO(o.Raw))
	case KindBIST:
		l.bist(pd.BDO(o.Raw))
	default:
		l.vendorObject(o)
	}
	return l
}

// vendorObject lists an object of a Vendor_Defined message.
func (l *fieldList) vendorObject(o *Object) {
	switch o.Kind {
	case KindVDMHeader:
		l.vdmHeader(pd.VDMHeader(o.Raw))
	case KindIDHeader, KindIDHeaderPlug:
		l.idHeader(pd.IDHeaderVDO(o.Raw), o.Kind == KindIDHeaderPlug)
	case KindCertStat:
		l.hex8("xid", 31, 0, o.Raw)
	case KindProduct:
		l.product(pd.ProductVDO(o.Raw))
	case KindPassiveCable:
		l.cable(pd.PassiveCableVDO(o.Raw).Fields().CableFields)
	case KindActiveCable1:
		l.activeCable1(pd.ActiveCableVDO1(o.Raw))
	case KindActiveCable2:
		l.activeCable2(pd.ActiveCableVDO2(o.Raw))
	case KindVPD:
		l.vpd(pd.VPDVDO(o.Raw))
	case KindUFP:
		l.ufp(pd.UFPVDO(o.Raw))
	case KindDFP:
		l.dfp(pd.DFPVDO(o.Raw))
	case KindSVIDs:
		l.svids(pd.SVIDsVDO(o.Raw))
	case KindR20Cable:
		l.r20Cable(pd.R20CableVDO(o.Raw))
	case KindAMA:
		l.ama(pd.AMAVDO(o.Raw))
	}
}
