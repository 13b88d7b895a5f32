package main

import "github.com/agnivade/levenshtein"

// tooFar is how many letters a typo may be off.
const tooFar = 3

// nearest returns the name that a typo most likely meant, or "".
func nearest(word string, names []string) string {
	best, least := "", tooFar
	for _, name := range names {
		if d := levenshtein.ComputeDistance(word, name); d < least && d < len(name) {
			best, least = name, d
		}
	}
	return best
}
