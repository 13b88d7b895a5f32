package bench

import "portside/pd"

// The numbers of the standard that both policies go by. Each stands in pd; what
// the policies choose inside a window stands beside their steps.

func limits(p pd.Parameter) pd.Limits { return p.Limits(pd.Revision3x) }

// onVolts is where VBUS counts as vSafe5V, offVolts where it counts as vSafe0V.
func onVolts() float64 { return limits(pd.VSafe5V).MinSI() }

func offVolts() float64 { return limits(pd.VSafe0V).MaxSI() }

// count is the number of a counter of USB PD R3.2 V1.1 table 6.70.
func count(p pd.Parameter) int { return int(limits(p).Nom.Value) }

// crcReceiveS is how long a sender waits for its GoodCRC.
func crcReceiveS() float64 { return limits(pd.TReceive).NomSI() }
