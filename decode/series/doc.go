// Package series holds the statistics that any series of numbers needs, each
// after its paper: robust noise, change points, CUSUM, a least squares line,
// dynamic time warping, periods. It knows nothing of volts or amperes. Values are taken to be finite; the caller drops gaps.
package series
