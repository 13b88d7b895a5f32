package draw

import "math"

// How exactly a train of pulses knows its period. A timer that begins anew after each
// try wanders from try to try, so that its errors add up; that each start is only known
// to a row does not. How much the timer wanders is not known beforehand: the period is
// the mean over all that it may, weighed by the distances that were seen.
const (
	timerShare  = 1e-4  // limit of the error of a meter's own clock: a resonator, common practice
	timerWander = 0.006 // of the period, from try to try: a converter's own oscillator, common practice
	wanderLeast = 1e-4  // looked at, from here
	wanderMost  = 0.4   // to here: more is no rhythm
	wanderSteps = 40
)

// timed is the mean period that the train's distances come to, and its standard
// uncertainty. The units of the distances are told by a first guess of it.
func (f *pulseFinder) timed(guess, cycles float64) (period, u float64) {
	blur := f.interval * f.interval / 12
	var weight, mean, square, wander float64
	best := math.Inf(-1)
	for i := range wanderSteps {
		share := wanderLeast * math.Pow(wanderMost/wanderLeast, float64(i)/(wanderSteps-1))
		sigma := share * guess
		p, v, log := f.fit(guess, sigma*sigma, blur)
		// as likely as in a half-Cauchy distribution (Gelman 2006), over equal ratios
		log += math.Log(share / (1 + share*share/(timerWander*timerWander)))
		if log > best {
			rescale := math.Exp(best - log)
			weight, mean, square, wander = weight*rescale, mean*rescale, square*rescale, wander*rescale
			best = log
		}
		w := math.Exp(log - best)
		d := p - guess
		weight, mean, square, wander = weight+w, mean+w*d, square+w*(v+d*d), wander+w*sigma*sigma
	}
	mean, square, wander = mean/weight, square/weight, wander/weight
	clock := timerShare * rectangular * guess
	if f.count > len(f.train) { // only the last ones are held: the ends of all tell more
		return guess, math.Sqrt(2*blur/(cycles*cycles) + wander/cycles + clock*clock)
	}
	return guess + mean, math.Sqrt(max(0, square-mean*mean) + clock*clock)
}

// fit is the period by generalised least squares, its variance, and the logarithm of the
// likelihood, for a timer whose tries wander by so much and starts blurred by so much.
// Neighbouring distances share a start, so their covariance is tridiagonal and is taken
// apart on the way.
func (f *pulseFinder) fit(guess, wander, blur float64) (period, variance, log float64) {
	var pivot, unit, dist float64 // of the distance before, the last two whitened
	var kk, kd, dd float64
	for i := 1; i < len(f.train); i++ {
		d := f.train[i].start - f.train[i-1].start
		k := max(1, math.Round(d/guess))
		carry := 0.0
		if i > 1 {
			carry = -blur / pivot
		}
		d -= k * guess // small numbers are exact
		d -= carry * dist
		unitOf := k - carry*unit
		pivot = k*wander + 2*blur - carry*carry*pivot
		unit, dist = unitOf, d
		kk += unitOf * unitOf / pivot
		kd += unitOf * d / pivot
		dd += d * d / pivot
		log -= math.Log(pivot) / 2
	}
	log -= math.Log(kk)/2 + (dd-kd*kd/kk)/2
	return guess + kd/kk, 1 / kk, log
}
