// Package message puts one recorded message into words and into a JSON object.
package message

import "portside/captures"

// Decoder reads messages in the order of time and keeps the offers that later
// requests answer.
type Decoder struct{}

// NewDecoder returns a decoder for one recording.
func NewDecoder() *Decoder { return &Decoder{} }

// Line is one message as a JSON object.
type Line struct {
	TimeS    float64  `json:"time_s"`
	SOP      string   `json:"sop"`
	CRCOK    *bool    `json:"crc_ok"`
	Repeat   bool     `json:"repeat"`
	Header   *Header  `json:"header"`
	Objects  []Object `json:"objects"`
	Text     string   `json:"text"`
	Problems []string `json:"problems"`
}

// Header is the message header; nil for a reset.
type Header struct{}

// Object is one data object.
type Object struct{}

// Decode reads the next message.
func (d *Decoder) Decode(m *captures.Message) Line { return Line{} }
