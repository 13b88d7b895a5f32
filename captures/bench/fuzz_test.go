package bench

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A truth that is read names a location; nothing makes the reader break.
func FuzzReadTruth(f *testing.F) {
	f.Fuzz(func(t *testing.T, text string) {
		got, err := ReadTruth(strings.NewReader(text))
		if err != nil {
			assert.ErrorIs(t, err, ErrTruth)
			return
		}
		assert.True(t, slices.Contains([]Location{BeforePort, AtPort, BehindPort, Healthy}, got.Location))
	})
}

// What Set takes is within the ranges, and what it refuses changes no answer.
func FuzzSet(f *testing.F) {
	f.Fuzz(func(t *testing.T, name, text string) {
		full, _ := FullName(name)
		s := Scenario{Parameters: Sound(), Location: Healthy, Rules: []string{}}
		was := s.Parameters
		if err := s.Change(func(p *Parameters) error { return p.Set(full, text) }); err != nil {
			assert.Equal(t, was, s.Parameters)
			return
		}
		assert.NoError(t, s.Parameters.Check())
	})
}
