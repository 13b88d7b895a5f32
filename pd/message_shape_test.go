package pd_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/pd"
)

// USB PD R3.2 V1.1, tables 6.6 and 6.53 and sections 6.5.1 to 6.5.16; lower sizes R3.0 V1.1.
func TestMessageShape(t *testing.T) {
	tests := []struct {
		mt   pd.MessageType
		want pd.MessageShape
	}{
		{pd.GoodCRC, pd.MessageShape{Cable: true}},
		{pd.PSRDY, pd.MessageShape{}},
		{pd.SourceCapabilities, pd.MessageShape{MinObjects: 1, MaxObjects: 7}},
		{pd.Request, pd.MessageShape{MinObjects: 1, MaxObjects: 1}},
		{pd.BIST, pd.MessageShape{MinObjects: 1, MaxObjects: 7, Cable: true}},
		{pd.EPRRequest, pd.MessageShape{MinObjects: 2, MaxObjects: 2}},
		{pd.VendorDefined, pd.MessageShape{MinObjects: 1, MaxObjects: 7, Cable: true}},
		{pd.RevisionMessage, pd.MessageShape{MinObjects: 1, MaxObjects: 1, Cable: true}},
		{pd.SourceCapabilitiesExtended, pd.MessageShape{MinBytes: 24, MaxBytes: 25}},
		{pd.Status, pd.MessageShape{MinBytes: 2, MaxBytes: 7, Cable: true}},
		{pd.GetBatteryCap, pd.MessageShape{MinBytes: 1, MaxBytes: 1}},
		{pd.BatteryCapabilities, pd.MessageShape{MinBytes: 9, MaxBytes: 9}},
		{pd.GetManufacturerInfo, pd.MessageShape{MinBytes: 2, MaxBytes: 2, Cable: true}},
		{pd.ManufacturerInfo, pd.MessageShape{MinBytes: 4, MaxBytes: 26, Cable: true}},
		{pd.SecurityRequest, pd.MessageShape{MinBytes: 4, MaxBytes: 260, Cable: true}},
		{pd.PPSStatus, pd.MessageShape{MinBytes: 4, MaxBytes: 4}},
		{pd.CountryCodes, pd.MessageShape{MinBytes: 4, MaxBytes: 26}},
		{pd.SinkCapabilitiesExtended, pd.MessageShape{MinBytes: 21, MaxBytes: 24}},
		{pd.ExtendedControl, pd.MessageShape{MinBytes: 2, MaxBytes: 2}},
		{pd.EPRSourceCapabilities, pd.MessageShape{MinBytes: 28, MaxBytes: 44}},
		{pd.VendorDefinedExtended, pd.MessageShape{MinBytes: 4, MaxBytes: 260, Cable: true}},
	}
	for _, tt := range tests {
		t.Run(tt.mt.String(), func(t *testing.T) {
			got, ok := tt.mt.Shape()
			assert.True(t, ok)
			assert.Equal(t, tt.want, got)
		})
	}
	_, ok := pd.MessageType(0).Shape()
	assert.False(t, ok)
}

// The vectors say for each control message whether a cable plug may speak it.
func TestMessageShapeCable(t *testing.T) {
	for _, want := range standard(t).MessageTypes.Control {
		s, ok := pd.NewMessageType(pd.Control, want.Code).Shape()
		assert.True(t, ok)
		assert.Equal(t, want.SOP == "SOP*", s.Cable, "%s: %s", want.Name, want.Source)
	}
}
