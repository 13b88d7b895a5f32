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
