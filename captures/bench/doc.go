// Package bench is a simulated repair bench: a USB-C source, a cable, a device
// with its port, charger circuit, main rail and battery, and a meter between
// them. The power path is solved as a circuit by time stepping; the policies of
// source and sink run as state machines that speak on a modelled CC line. A
// fault is a part of the circuit or a step that a policy leaves out, never a
// drawn curve, so what the meter and the message list show follows from it.
//
// [Scenarios] lists what is built in, [Simulate] runs one. All chance comes
// from the seed: the same scenario and seed give the same recording.
package bench
