package negotiation

import "slices"

// maxEntries is how many entries a list holds at most, so that a recording of
// days costs what one of seconds costs.
const maxEntries = 10_000

// kept is a list in the order of time that keeps its largest entries.
type kept[T any] struct {
	items []T
	size  func(T) float64 // equal sizes: the earlier one stays
	left  int             // entries dropped
}

func (k *kept[T]) add(x T) {
	k.items = append(k.items, x)
	if len(k.items) >= 2*maxEntries {
		k.left += k.prune()
	}
}

// prune drops the smallest entries beyond the limit and says how many.
func (k *kept[T]) prune() int {
	over := len(k.items) - maxEntries
	if over <= 0 {
		return 0
	}
	order := make([]int, len(k.items))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch sa, sb := k.size(k.items[a]), k.size(k.items[b]); {
		case sa > sb:
			return -1
		case sa < sb:
			return 1
		default:
			return a - b
		}
	})
	order = order[:maxEntries]
	slices.Sort(order)
	for to, from := range order {
		k.items[to] = k.items[from]
	}
	k.items = k.items[:maxEntries]
	return over
}

// list is a copy with the open entries added, within the limit, and how many
// entries it lacks.
func (k *kept[T]) list(open ...T) (items []T, left int) {
	c := kept[T]{items: make([]T, 0, len(k.items)+len(open)), size: k.size}
	c.items = append(append(c.items, k.items...), open...)
	left = k.left + c.prune()
	return c.items, left
}
