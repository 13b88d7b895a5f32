// Package pd is the USB Power Delivery standard as Go types and numbers: the words on the
// wire, the symbols of the line, and every timer, counter and electrical value with the
// document and table it comes from. It knows nothing of recordings.
//
// # Words
//
// A word on the wire is a small comparable value: [Header], [ExtendedHeader], [PDO],
// [SinkPDO], [RDO], [VDMHeader] and the single objects, which carry the standard's own
// abbreviations. A word is taken apart by a typed view and put together by the view's
// Encode, which is the exact inverse, reserved bits included:
//
//	PDO      Fixed, Variable, Battery, PPS, SPRAVS, EPRAVS    Source_Capabilities
//	SinkPDO  the same kinds, what a sink needs                Sink_Capabilities
//	RDO      Fixed, Battery, PPS, AVS                         Request, EPR_Request
//	EPRMDO   EPR_Mode            ADO    Alert
//	BSDO     Battery_Status      SIDO   Source_Info
//	RMDO     Revision            CCDO   Get_Country_Info
//	EUDO     Enter_USB           BDO    BIST
//	VDMHeader                    the first object of Vendor_Defined
//	IDHeaderVDO, CertStatVDO, ProductVDO, then by product type PassiveCableVDO,
//	ActiveCableVDO1 and ActiveCableVDO2, VPDVDO, UFPVDO, DFPVDO   Discover Identity
//	SVIDsVDO                     Discover SVIDs
//	R20CableVDO, AMAVDO          Discover Identity of R2.0
//
// A view reports ok false where the word is of another kind. An RDO does not tell its
// kind: choose the view by the object it asks for.
//
// # Messages
//
// [ParseMessage] reads one packet between ordered set and CRC. It keeps the caller's bytes
// and every one of them; when header and bytes disagree it returns what came together with
// a [*LengthError]. [MessageType] is class and code in one value, so that one switch does
// for control, data and extended messages. [CRC], [Symbol] and [AirTime] are the layer
// below: check, line code and duration. The data blocks of extended messages have readers
// of their own, [ParseSDB] and its neighbours; [Message.Block] gives them their bytes.
//
// # What is right
//
// Decoding does not judge, since real traffic breaks rules: a reserved code, a reserved bit
// and an impossible voltage decode like any other. What breaks which clause is asked apart
// from it and answered as a list of [Violation]: [Message.Validate] for a packet,
// [ValidateBlock] for a data block whose chunks were joined, [RDO.ValidateFor] for a request
// and the offer it answers, [PDO.Validate] and its like for one object. Sound input takes no
// memory. [MessageType.Shape] has the form of a message, and [SPRFixedCurrent],
// [PPSCurrent] and [EPRFixedCurrent] what a source of a power rating offers.
//
// Rules and layouts differ by revision, and a header tells only 2.0 and 3.x apart. To a
// judgement [Revision3x] means any R3: a rule holds for it only if it holds for each of
// them. [Header.TypeFor], [RDO.PositionFor] and [MessageType.DefinedIn] read as one revision
// does, and take 3.x for the newest.
//
// # Numbers
//
// [Parameter] names every number of the standard, and [Parameter.Limits] gives minimum,
// nominal value, maximum, unit and source for a revision. Where a number differs by
// revision it has a row of its own; [Parameter.Widest] takes several rows together where
// the revision is not known well enough. [FixedWindow], [PPSWindow] and [AVSWindow] turn the
// rows into voltages, [CCMeaning] reads the voltage on CC.
//
// # Zero values and units
//
// The zero value of an enumeration is unknown unless its comment says that 0 has a meaning
// on the wire. Wire quantities are whole numbers in the unit their type names
// ([Millivolts], [Milliamps], [Milliwatts], [Watts]); windows and CC voltages are float64
// in V. An unknown number is NaN, a Bound that is not Given, or ok false; never 0.
//
// # Sources
//
// USB PD R3.2 V1.1 (2024-10) and USB PD R3.0 V1.1 (2017-01-12) were read. R3.1 V1.5, the
// releases of USB Type-C and the compliance test specification are known through other
// authors' quotations and public firmware constants; the few numbers from memory say so in
// Limits.Document. Where the standard contradicts itself, the comment at the place says
// which reading was taken and why.
package pd
