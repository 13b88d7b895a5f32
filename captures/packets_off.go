//go:build !pcapng

package captures

import (
	"bufio"
	"errors"
	"io"
)

// isPackets finds no packet file in a build without the packet library.
func isPackets(*bufio.Reader) bool { return false }

func openPackets(string, *bufio.Reader) (*Input, error) { return nil, errNoPackets }

var errNoPackets = errors.New("this build was made without packet files")

// NewPacketWriter fails in a build without the packet library.
func NewPacketWriter(io.Writer, []*Input) (Writer, error) {
	return nil, errNoPackets
}
