package draw

import (
	"cmp"
	"slices"
)

const maxEntries = 10_000 // of each list

// keep holds the largest entries of a list in the order they came.
type keep[T any] struct {
	items []T
	left  int
	size  func(T) float64
}

func (k *keep[T]) add(x T) {
	k.items = append(k.items, x)
	if len(k.items) >= 2*maxEntries {
		k.shrink()
	}
}

// shrink drops the smallest entries beyond the limit.
func (k *keep[T]) shrink() {
	if len(k.items) <= maxEntries {
		return
	}
	order := make([]int, len(k.items))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(k.size(k.items[b]), k.size(k.items[a])) })
	kept := order[:maxEntries]
	slices.Sort(kept)
	out := make([]T, 0, 2*maxEntries)
	for _, i := range kept {
		out = append(out, k.items[i])
	}
	k.left += len(k.items) - maxEntries
	k.items = out
}

// take returns the list, never nil, and counts what was left out.
func (k *keep[T]) take(left *int) []T {
	k.shrink()
	*left += k.left
	if k.items == nil {
		return []T{}
	}
	return k.items
}

func (k *keep[T]) clone() keep[T] {
	c := *k
	c.items = slices.Clone(k.items)
	return c
}
