package pd_test

import (
	"encoding/binary"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// typed reads a packet into the typed form of everything in it and adds up a little of
// each, so that nothing is left out as unused.
func typed(set pd.OrderedSet, packet []byte) int {
	m, err := pd.ParseMessage(set, packet)
	if err != nil {
		return 0
	}
	h := m.Header.Fields()
	sum := int(h.Type) + h.MessageID + int(h.PowerRole)
	switch m.Type() {
	case pd.SourceCapabilities:
		for i := range m.NumObjects() {
			sum += typedPDO(pd.PDO(m.Object(i)))
		}
	case pd.SinkCapabilities:
		for i := range m.NumObjects() {
			sum += typedSinkPDO(pd.SinkPDO(m.Object(i)))
		}
	case pd.Request:
		r := pd.RDO(m.Object(0))
		sum += r.Position() + int(r.Fixed().OperatingCurrent) + int(r.PPS().Voltage) + int(r.AVS().Voltage) + int(r.Battery().OperatingPower)
	case pd.VendorDefined:
		sum += typedVDM(m)
	}
	if m.Header.Class() == pd.Data && m.NumObjects() > 0 {
		sum += typedSingle(m)
	}
	if m.Header.Extended() {
		sum += typedBlock(m)
	}
	return sum
}

func typedPDO(p pd.PDO) int {
	switch p.Kind() {
	case pd.KindFixed:
		f, _ := p.Fixed()
		return int(f.Voltage) + int(f.MaxCurrent)
	case pd.KindVariable:
		v, _ := p.Variable()
		return int(v.MinVoltage) + int(v.MaxCurrent)
	case pd.KindBattery:
		b, _ := p.Battery()
		return int(b.MinVoltage) + int(b.MaxPower)
	case pd.KindPPS:
		s, _ := p.PPS()
		return int(s.MaxVoltage) + int(s.MaxCurrent)
	case pd.KindSPRAVS:
		s, _ := p.SPRAVS()
		return int(s.MaxCurrent15V) + int(s.MaxCurrent20V)
	case pd.KindEPRAVS:
		s, _ := p.EPRAVS()
		return int(s.MaxVoltage) + int(s.PDP)
	default:
		return 0
	}
}

func typedSinkPDO(p pd.SinkPDO) int {
	f, _ := p.Fixed()
	v, _ := p.Variable()
	b, _ := p.Battery()
	s, _ := p.PPS()
	a, _ := p.SPRAVS()
	e, _ := p.EPRAVS()
	return int(f.Voltage) + int(v.MinVoltage) + int(b.MinVoltage) + int(s.MaxVoltage) + int(a.MaxCurrent15V) + int(e.PDP)
}

func typedVDM(m pd.Message) int {
	h, ok := pd.VDMHeader(m.Object(0)).Fields()
	if !ok || m.NumObjects() < 5 {
		return int(h.Command)
	}
	w := m.Object(4)
	return int(pd.IDHeaderVDO(m.Object(1)).Fields().VID) + int(pd.ProductVDO(m.Object(3)).PID()) +
		pd.PassiveCableVDO(w).Fields().Current + pd.ActiveCableVDO1(w).Fields().Latency +
		pd.ActiveCableVDO2(w).Fields().ShutdownC + pd.VPDVDO(w).Fields().VBUSMilliohms +
		pd.UFPVDO(w).Fields().Speed + pd.DFPVDO(w).Fields().PortNumber +
		pd.R20CableVDO(w).Fields().Current + pd.AMAVDO(w).Fields().VCONNPower
}

func typedSingle(m pd.Message) int {
	w := m.Object(0)
	switch m.Type() {
	case pd.Alert:
		return int(pd.ADO(w).Fields().ExtendedType)
	case pd.BIST:
		return int(pd.BDO(w).Fields().Mode)
	case pd.BatteryStatus:
		return int(pd.BSDO(w).Fields().Capacity)
	case pd.EnterUSB:
		return int(pd.EUDO(w).Fields().Mode)
	case pd.EPRMode:
		return int(pd.EPRMDO(w).Fields().Action)
	case pd.GetCountryInfo:
		return int(pd.CCDO(w).Fields().First)
	case pd.RevisionMessage:
		return pd.RMDO(w).Fields().RevisionMajor
	case pd.SourceInfo:
		return int(pd.SIDO(w).Fields().MaximumPDP)
	default:
		return 0
	}
}

func typedBlock(m pd.Message) int {
	b := m.Block()
	sdb, _ := pd.ParseSDB(b)
	csdb, _ := pd.ParseCSDB(b)
	pps, _ := pd.ParsePPSSDB(b)
	scedb, _ := pd.ParseSCEDB(b)
	skedb, _ := pd.ParseSKEDB(b)
	bcdb, _ := pd.ParseBCDB(b)
	midb, _ := pd.ParseMIDB(b)
	gmidb, _ := pd.ParseGMIDB(b)
	gbdb, _ := pd.ParseGBDB(b)
	ecdb, _ := pd.ParseECDB(b)
	codes, _ := pd.ParseCountryCodes(b)
	info, _ := pd.ParseCountryInfo(b)
	sum := sdb.Size + int(csdb.InternalTemperature) + int(pps.RawCurrent) + int(scedb.SPRPDP) + int(skedb.SPRMax) +
		int(bcdb.DesignCapacity) + int(midb.VID) + int(gmidb.Target) + int(gbdb) + int(ecdb.Type) +
		int(codes.Count) + int(info.First)
	for _, o := range pd.BlockObjects(b) {
		sum += int(o)
	}
	return sum
}

// traffic is what a charger and a device say to each other in a negotiation with a cable:
// eleven packets, as in the worked sequence of USB PD R3.2 V1.1, section 8.3.2.2.
func traffic(t testing.TB) (sets []pd.OrderedSet, wire [][]byte) {
	t.Helper()
	add := func(m pd.Message) {
		sets = append(sets, m.Set)
		wire = append(wire, m.Bytes())
	}
	port := func(mt pd.MessageType, role pd.PowerRole, objects ...uint32) {
		add(pd.NewMessage(pd.SOP, pd.HeaderFields{Type: mt, Revision: pd.Revision3x, PowerRole: role}, objects...))
	}
	cable := func(plug bool, mt pd.MessageType, objects ...uint32) {
		add(pd.NewMessage(pd.SOPPrime, pd.HeaderFields{Type: mt, Revision: pd.Revision3x, CablePlug: plug}, objects...))
	}
	cable(false, pd.VendorDefined, 0xFF00A001)
	cable(true, pd.GoodCRC)
	cable(true, pd.VendorDefined, 0xFF00A041, 0x18601234, 0, 0x12340100, 0x110A2640)
	cable(false, pd.GoodCRC)
	port(pd.SourceCapabilities, pd.Source, 0x0A91912C, 0x0002D12C, 0x0004B12C, 0x001641F4, 0xE004B1F4, 0xC9A43264)
	port(pd.GoodCRC, pd.Sink)
	port(pd.Request, pd.Sink, 0x1304B12C)
	port(pd.GoodCRC, pd.Source)
	port(pd.Accept, pd.Source)
	port(pd.GoodCRC, pd.Sink)
	port(pd.PSRDY, pd.Source)
	return sets, wire
}

// Reading takes no memory, whatever the message: one of each kind, and every type of header
// over the same body.
func TestNoAllocationsOnDecode(t *testing.T) {
	sets, wire := traffic(t)
	body := make([]byte, 30)
	for i := range body {
		body[i] = byte(i * 37)
	}
	var every [][]byte
	for code := range 32 {
		for _, class := range []uint16{0, 7 << 12, 1 << 15} {
			packet := binary.LittleEndian.AppendUint16(nil, class|2<<6|uint16(code))
			switch class {
			case 7 << 12:
				packet = append(packet, body[:28]...)
			case 1 << 15:
				packet = binary.LittleEndian.AppendUint16(packet, 26)
				packet = append(packet, body[:26]...)
			}
			_, err := pd.ParseMessage(pd.SOP, packet)
			require.NoError(t, err)
			every = append(every, packet)
		}
	}
	sum := 0
	allocs := testing.AllocsPerRun(100, func() {
		for i, packet := range wire {
			sum += typed(sets[i], packet)
		}
		for _, packet := range every {
			sum += typed(pd.SOP, packet)
		}
	})
	assert.Zero(t, allocs)
	assert.NotZero(t, sum)
}

// Writing into memory of the caller takes none either.
func TestNoAllocationsOnEncode(t *testing.T) {
	_, wire := traffic(t)
	m, err := pd.ParseMessage(pd.SOP, wire[4])
	require.NoError(t, err)
	status := pd.SDB{Size: 7, OCP: true}
	buffer := make([]byte, 0, pd.MaxExtendedMsgLen)
	n := 0
	allocs := testing.AllocsPerRun(100, func() {
		n += len(m.AppendTo(buffer)) + len(status.AppendTo(buffer))
		n += int(pd.FixedSupply{Voltage: 5000}.Encode())
	})
	assert.Zero(t, allocs)
	assert.NotZero(t, n)
}
