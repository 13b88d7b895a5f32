package signs

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/rules"
	"portside/decode/signs/build"
)

// said is whether something is told.
func said(text func(Picture) string) func(Picture) string {
	return func(p Picture) string {
		if text(p) == "" {
			return ""
		}
		return "yes"
	}
}

// seeing looks at a recording alone.
func seeing(builds ...build.Build) Picture {
	f := build.Built(builds...)
	findings, _ := rules.Run(&f)
	return Look(Evidence{Facts: f, Findings: findings})
}

// sign is a recording, and what is told of it.
type sign struct {
	name   string
	facts  []build.Build
	see    func(Picture) string
	want   string
	source string
}

func showSigns(t *testing.T, signs []sign) {
	t.Helper()
	for _, x := range signs {
		t.Run(x.name, func(t *testing.T) {
			require.NotEmpty(t, x.source)
			assert.Equal(t, x.want, x.see(seeing(x.facts...)))
		})
	}
}
