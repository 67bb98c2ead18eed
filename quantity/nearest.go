package quantity

import (
	"slices"
	"strings"
)

// Nearest returns the candidate that a mistyped word most likely means, and
// whether there is one near enough to be worth offering.
//
// Near is the number of letters inserted, left out, exchanged or swapped with
// their neighbour (Damerau-Levenshtein distance, each pair swapped at most
// once), where capitals, hyphens, underscores and spaces do not count. Words
// of up to two characters must agree but for these, up to five may have one
// slip, up to eight two, longer ones three: in short names like N1 and N2
// one letter is another thing, not a slip. Nothing is near a word of more
// than 200 characters. Among equals the one with fewer
// slips as typed wins, then the first of the candidates.
func Nearest(word string, candidates []string) (string, bool) {
	allowed := 3
	switch n := len([]rune(word)); {
	case n == 0 || n > longestWord:
		return "", false
	case n <= 2:
		allowed = 0
	case n <= 5:
		allowed = 1
	case n <= 8:
		allowed = 2
	}
	best, found := "", false
	bestFolded, bestTyped := allowed+1, 0
	folded := fold(word)
	for _, c := range candidates {
		d := distance(folded, fold(c), allowed)
		if d > allowed || d > bestFolded {
			continue
		}
		typed := distance([]rune(word), []rune(c), len(word)+len(c))
		if d < bestFolded || typed < bestTyped {
			best, found, bestFolded, bestTyped = c, true, d, typed
		}
	}
	return best, found
}

// longestWord is the length beyond which a text is no mistyped word; the work
// grows with the square of it.
const longestWord = 200

func fold(s string) []rune {
	return []rune(strings.NewReplacer("-", " ", "_", " ").Replace(strings.ToLower(s)))
}

// distance is the optimal string alignment distance of a and b; anything
// above limit may be returned as limit+1.
func distance(a, b []rune, limit int) int {
	if len(a)-len(b) > limit || len(b)-len(a) > limit {
		return limit + 1
	}
	before := make([]int, len(b)+1) // row i−2
	last := make([]int, len(b)+1)   // row i−1
	row := make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		if slices.Min(row) > limit {
			return limit + 1
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}
