package pd_test

import (
	"errors"
	"fmt"

	"portside/pd"
)

// A charger's offer from bytes to words.
func ExampleParseMessage() {
	packet := []byte{0xA1, 0x21, 0x2C, 0x91, 0x01, 0x08, 0x3C, 0x21, 0xDC, 0xC0}
	m, err := pd.ParseMessage(pd.SOP, packet)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(m.Type(), m.Header.Revision(), m.PowerRole(), "ID", m.Header.MessageID())
	for i, o := range m.Objects() {
		p := pd.PDO(o)
		if f, ok := p.Fixed(); ok {
			fmt.Printf("%d %s %.1f V %.2f A\n", i+1, p.Kind(), f.Voltage.Volts(), f.MaxCurrent.Amps())
		}
		if s, ok := p.PPS(); ok {
			fmt.Printf("%d %s %.1f-%.1f V %.2f A\n", i+1, p.Kind(), s.MinVoltage.Volts(), s.MaxVoltage.Volts(), s.MaxCurrent.Amps())
		}
	}
	// Output:
	// Source_Capabilities 3.x source ID 0
	// 1 fixed 5.0 V 3.00 A
	// 2 pps 3.3-11.0 V 3.00 A
}

// A packet that was cut short keeps its whole objects.
func ExampleLengthError() {
	m, err := pd.ParseMessage(pd.SOP, []byte{0xA1, 0x21, 0x2C, 0x91, 0x01, 0x08, 0x3C})
	var short *pd.LengthError
	if errors.As(err, &short) {
		fmt.Println("announced", short.ExpectedObjects, "found", short.FoundObjects)
	}
	fmt.Printf("0x%08X\n", m.Object(0))
	// Output:
	// announced 2 found 1
	// 0x0801912C
}

// The view of a request follows the kind of the object asked for.
func ExampleRDO() {
	r := pd.RDO(0x5203843C)
	p := r.PPS()
	fmt.Println("object", r.Position(), p.Voltage, "mV", p.OperatingCurrent, "mA", "mismatch", r.CapabilityMismatch())
	// Output: object 5 9000 mV 3000 mA mismatch false
}

// Build a message and the bytes and bits it takes on the line.
func ExampleNewMessage() {
	offer := pd.FixedSupply{Voltage: 5000, MaxCurrent: 3000, UnconstrainedPower: true}.Encode()
	m := pd.NewMessage(pd.SOP, pd.HeaderFields{
		Type:      pd.SourceCapabilities,
		Revision:  pd.Revision3x,
		PowerRole: pd.Source,
		DataRole:  pd.DFP,
	}, uint32(offer))
	_, nominal, _ := pd.AirTime(m.LineBits())
	fmt.Printf("%x %d bits %v\n", pd.AppendCRC(m.Bytes()), m.LineBits(), nominal)
	// Output: a1112c910108e8a6f73f 189 bits 630µs
}

// How long a sink waits for an answer, by revision.
func ExampleParameter_Limits() {
	for _, r := range []pd.Revision{pd.Revision20, pd.Revision32} {
		l := pd.TSenderResponse.Limits(r)
		low, _ := l.MinDuration()
		high, _ := l.MaxDuration()
		fmt.Printf("%s at %s: %v to %v (%s, table %s)\n", l.Name, r, low, high, l.Document, l.Table)
	}
	// Output:
	// tSenderResponse at 2.0: 24ms to 30ms (USB PD compliance test specification Q4 2024, table 19)
	// tSenderResponse at 3.2: 27ms to 33ms (USB PD R3.2 V1.1, table 6.68)
}

// Where 20 V may stand, and where it may be for a moment.
func ExampleFixedWindow() {
	static, transient := pd.FixedWindow(20000)
	fmt.Println(static, transient, static.Contains(18.7), transient.Contains(18.7))
	// Output: {19 21} {18.5 21.5} false true
}

// What a sink reads from the voltage on CC.
func ExampleCCMeaning() {
	for _, v := range []float64{0.02, 0.41, 0.92, 1.68, 1.24} {
		fmt.Println(v, pd.CCMeaning(v))
	}
	// Output:
	// 0.02 open
	// 0.41 default
	// 0.92 1.5 A
	// 1.68 3.0 A
	// 1.24 too close to call
}

// Every number of the standard, with its source.
func ExampleParameters() {
	for p := range pd.Parameters() {
		if l := p.Limits(pd.Revision32); l.Unit == "s" && l.Max.Given && l.Max.Value > 10 {
			fmt.Println(l.Name, l.Min.Value, l.Max.Value, l.Unit, l.Document, l.Table)
		}
	}
	// Output: tPPSTimeout 12 15 s USB PD R3.2 V1.1 6.68
}

// The header of a vendor-defined message.
func ExampleVDMHeader() {
	h := pd.VDMHeader(0xFF00A041)
	fmt.Printf("%04X %s %s version %s\n", h.SVID(), h.Command(), h.CommandType(), h.Version())
	// Output: FF00 Discover Identity ACK version 2.0
}

// Three of four K-codes are enough to know a packet's start.
func ExampleRecogniseOrderedSet() {
	set, matches := pd.RecogniseOrderedSet([4]pd.Symbol{pd.Sync1, pd.Sync1, 0, pd.Sync2})
	fmt.Println(set, matches)
	// Output: SOP 3
}

// What a message breaks, and by which clause. The pair is known by its header only.
func ExampleMessage_Validate() {
	m := pd.NewMessage(pd.SOP, pd.HeaderFields{
		Type: pd.SourceCapabilities, Revision: pd.Revision3x, PowerRole: pd.Source, DataRole: pd.DFP,
	},
		uint32(pd.FixedSupply{Voltage: 9000, MaxCurrent: 3000}.Encode()),
		uint32(pd.FixedSupply{Voltage: 5000, MaxCurrent: 6000}.Encode()),
	)
	for _, v := range m.Validate(0) {
		fmt.Println(v)
	}
	// Output:
	// object 1: the first object is not fixed 5 V (USB PD R3.2 V1.1, section 6.4.1.4)
	// object 2: more than 5 A (USB PD R3.2 V1.1, table 10.2)
	// object 2: objects out of order (USB PD R3.2 V1.1, section 6.4.1.4)
}

// A request against the offer it answers.
func ExampleRDO_ValidateFor() {
	offer := []pd.PDO{
		pd.FixedSupply{Voltage: 5000, MaxCurrent: 3000}.Encode(),
		pd.PPSSupply{MinVoltage: 3300, MaxVoltage: 11000, MaxCurrent: 3000}.Encode(),
	}
	r := pd.PPSRequest{
		RequestFlags:     pd.RequestFlags{Position: 2},
		Voltage:          12000,
		OperatingCurrent: 2000,
	}.Encode()
	fmt.Println(r.ValidateFor(offer, false, pd.Revision3x))
	// Output: [voltage outside the offer (USB PD R3.2 V1.1, section 6.4.2)]
}

// The same rule may hold in one revision and not in another.
func ExamplePDO_Validate() {
	p := pd.PPSSupply{MinVoltage: 3300, MaxVoltage: 11000, MaxCurrent: 3000}.Encode()
	for _, r := range []pd.Revision{pd.Revision30, pd.Revision3x, pd.Revision32} {
		fmt.Println(r, p.Validate(r))
	}
	// Output:
	// 3.0 []
	// 3.x []
	// 3.2 [voltage that the kind of object cannot have (USB PD R3.2 V1.1, table 10.10)]
}

// The data block of EPR_Source_Capabilities, its two chunks joined: positions of unused SPR
// objects are zero.
func ExampleBlockObjects() {
	block := pd.NewMessage(pd.SOP, pd.HeaderFields{},
		0x0881912C, 0x0002D12C, 0x0004B12C, 0x000641F4, 0, 0, 0, 0x0008C1F4, 0xD230968C).Body
	for i, o := range pd.BlockObjects(block) {
		p := pd.PDO(o)
		if f, ok := p.Fixed(); ok && o != 0 {
			fmt.Println(i+1, f.Voltage.Volts(), "V", f.MaxCurrent.Amps(), "A")
		}
		if s, ok := p.EPRAVS(); ok {
			i28, _ := s.CurrentAt(28000)
			fmt.Println(i+1, s.MinVoltage.Volts(), "to", s.MaxVoltage.Volts(), "V", s.PDP, "W,", i28.Amps(), "A at 28 V")
		}
	}
	fmt.Println(pd.ValidateBlock(pd.EPRSourceCapabilities, block, false, pd.Revision32))
	// Output:
	// 1 5 V 3 A
	// 2 9 V 3 A
	// 3 15 V 3 A
	// 4 20 V 5 A
	// 8 28 V 5 A
	// 9 15 to 28 V 140 W, 5 A at 28 V
	// []
}

// What a programmable source says of its output.
func ExampleParsePPSSDB() {
	packet := []byte{0xAC, 0xA3, 0x04, 0x80, 0xC2, 0x01, 0x3C, 0x0A, 0x00, 0x00}
	m, err := pd.ParseMessage(pd.SOP, packet)
	if err != nil {
		fmt.Println(err)
		return
	}
	s, ok := pd.ParsePPSSDB(m.Block())
	v, _ := s.Voltage()
	i, _ := s.Current()
	fmt.Println(m.Type(), ok, v.Volts(), "V", i.Amps(), "A", "current limit", s.CurrentLimit, s.Temperature)
	// Output: PPS_Status true 9 V 3 A current limit true normal
}

// What a cable carries.
func ExamplePassiveCableVDO() {
	f := pd.PassiveCableVDO(0x110A2640).Fields()
	current, _ := f.MaxCurrent()
	latency, _ := f.MaxLatency()
	fmt.Println(f.MaxVoltage().Volts(), "V", current.Amps(), "A", "EPR", f.EPR(), f.Plug, f.Speed, latency)
	// Output: 50 V 5 A EPR true USB Type-C USB 2.0 10ns
}

// What a source of 65 W offers at 9 and at 20 V.
func ExampleSPRFixedCurrent() {
	for _, v := range []pd.Millivolts{9000, 20000} {
		r, ok := pd.SPRFixedCurrent(65000, 65000, v)
		fmt.Println(v.Volts(), "V", r.Min.Amps(), "to", r.Max.Amps(), "A", ok)
	}
	// Output:
	// 9 V 3 to 5 A true
	// 20 V 3.25 to 3.25 A true
}

// The form the standard gives a message.
func ExampleMessageType_Shape() {
	for _, t := range []pd.MessageType{pd.SourceCapabilities, pd.SourceCapabilitiesExtended} {
		s, _ := t.Shape()
		fmt.Println(t, s.MinObjects, s.MaxObjects, "objects,", s.MinBytes, s.MaxBytes, "bytes, for cables", s.Cable)
	}
	// Output:
	// Source_Capabilities 1 7 objects, 0 0 bytes, for cables false
	// Source_Capabilities_Extended 0 0 objects, 24 25 bytes, for cables false
}

// The limits that hold for a pair known by its header only: the widest of every R3.
func ExampleParameter_Widest() {
	l := pd.TSenderResponse.Widest(pd.Revision30, pd.Revision31, pd.Revision32)
	low, _ := l.MinDuration()
	high, _ := l.MaxDuration()
	fmt.Println(low, high)
	// Output: 24ms 33ms
}

// A Hard Reset and the longest packet, in bits and in time at the nominal rate.
func ExampleAirTime() {
	long := pd.NewMessage(pd.SOP, pd.HeaderFields{Type: pd.SourceCapabilities}, make([]uint32, 7)...)
	for _, m := range []pd.Message{{Set: pd.HardReset}, long} {
		_, nominal, _ := pd.AirTime(m.LineBits())
		fmt.Println(m.LineBits(), "bits", nominal)
	}
	// Output:
	// 84 bits 280µs
	// 429 bits 1.43ms
}
