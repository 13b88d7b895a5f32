//go:build !pcapng

package captures

import "bufio"

// isPackets finds no packet file in a build without the packet library.
func isPackets(*bufio.Reader) bool { return false }

func openPackets(string, *bufio.Reader) (*Input, error) { return nil, nil }
