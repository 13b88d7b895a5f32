package draw

// finder looks for one thing in the samples that have both quantities. It shares
// no state with the others, so that their order does not matter. The noise comes by its
// address because most do not look at it.
type finder interface {
	add(p point, n *noise)
	addChunk(c *chunk, n *noise) // does with a chunk what add does with each of its samples
	clone() finder               // shares nothing that changes: a snapshot is finished while the log goes on
	result(r *Result, left *int) // comes last: puts what was found into r, and counts what was left out
}

// finders are all of them, before the first sample. A new one is a file and a line here.
func finders() []finder {
	return []finder{
		newDipFinder(),
		newRefillFinder(),
		newGulpFinder(),
		&coldFinder{},
		&oscillationFinder{},
		&fromZeroFinder{},
		&rejoinFinder{},
		&twitchFinder{},
		newRunOutFinder(),
		newDrainFinder(),
		newHuntFinder(),
		newFollowFinder(),
		newRecoverFinder(),
		&humFinder{},
		newSteerFinder(),
		newEbbFinder(),
		newRecurFinder(),
		newBounceFinder(),
		&figureFinder{},
	}
}
