package draw

import "portside/pd"

// Limits of the standard that the draw is cut by, in V and s.
var (
	offVolts   = pd.VSafe0V.Limits(pd.Revision32).MaxSI()
	cableDrop  = pd.VCableDropVBUS.Limits(pd.Revision32).MaxSI() + pd.VCableDropGND.Limits(pd.Revision32).MaxSI()
	transientV = pd.VSrcValid.Limits(pd.Revision32).MaxSI() // that a source moves by under a load
	vconn      = pd.VVCONNValid.Limits(pd.Revision32).MaxSI()
	rdLeast    = pd.VCCDefault.Limits(pd.Revision32).MinSI()       // that Rd leaves of the weakest Rp
	standingS  = pd.TPSTransitionSPR.Limits(pd.Revision32).NomSI() // a lower contract stands at least this long
	passingS   = pd.TSafe0V.Limits(pd.Revision32).MaxSI() + timingS
)

// timingS is what a row more at each end adds, at 40 rows a second: common practice.
const timingS = 0.05
