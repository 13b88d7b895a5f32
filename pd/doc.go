// Package pd is the USB Power Delivery standard as Go types and numbers.
package pd
