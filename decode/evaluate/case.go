// Package evaluate measures how right and how honest the verdict is, on cases
// drawn at random from the simulated bench. It changes nothing in the verdict.
package evaluate

import (
	"math/rand/v2"

	"portside/captures/bench"
)

// Case is one drawn case.
type Case struct {
	Family string // that it was drawn from
	Run    *bench.Run
}

// Draw simulates the case of a seed: a family of the bench, with machine,
// charger, cable, fault and meter drawn from its stated ranges.
func Draw(seed uint64) (Case, error) {
	f := family(seed)
	run, err := bench.Simulate(f.Draw(seed), seed)
	return Case{Family: f.Name, Run: run}, err
}

func family(seed uint64) bench.Family {
	all := bench.Families()
	return all[rand.New(rand.NewPCG(seed, 0x5EED)).IntN(len(all))]
}

// FamilyOf names the family of a seed.
func FamilyOf(seed uint64) string { return family(seed).Name }
