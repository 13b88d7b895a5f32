package main

// tooFar is how many letters a typo may be off.
const tooFar = 3

// nearest returns the name that a typo most likely meant, or "".
func nearest(word string, names []string) string {
	best, least := "", tooFar
	for _, name := range names {
		if d := distance(word, name); d < least && d < len(name) {
			best, least = name, d
		}
	}
	return best
}

// distance counts the letters to insert, delete or replace (Levenshtein 1966).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			replaced := diagonal
			if a[i] != b[j] {
				replaced++
			}
			diagonal = row[j+1]
			row[j+1] = min(replaced, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
