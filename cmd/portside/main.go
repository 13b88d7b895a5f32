// Command portside says on which side of a USB-C port a fault lies, from the
// recordings of one plug-in.
package main

import "os"

func main() { os.Exit(run(os.Args[1:], systemStreams())) }
