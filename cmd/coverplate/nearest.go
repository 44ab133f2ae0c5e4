package main

import "strings"

// nearest is the word of known that word was most likely meant to be: the one
// with the fewest letters wrong, at most a third of it; "" where none is near.
// Case does not count.
func nearest(word string, known []string) string {
	best, found := len([]rune(word))/3+1, ""
	for _, k := range known {
		if d := misspelt(strings.ToLower(word), strings.ToLower(k)); d < best {
			best, found = d, k
		}
	}
	return found
}

// misspelt counts the letters to add, drop or change to get from a to b
// (V. I. Levenshtein, Soviet Physics Doklady 10, 1966).
func misspelt(a, b string) int {
	from, to := []rune(a), []rune(b)
	row := make([]int, len(to)+1)
	for j := range row {
		row[j] = j
	}
	for i, f := range from {
		before := row[0]
		row[0] = i + 1
		for j, t := range to {
			here := before
			if f != t {
				here = 1 + min(before, row[j], row[j+1])
			}
			before, row[j+1] = row[j+1], here
		}
	}
	return row[len(to)]
}
