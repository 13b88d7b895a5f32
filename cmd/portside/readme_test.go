package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	readme      = "../../README.md"
	screenLines = 46 // of the first screen are shown
	fence       = "```\n"
)

// TestReadmeShowsTheRealScreen holds the screen of the README to what the
// program prints; -update writes it anew.
func TestReadmeShowsTheRealScreen(t *testing.T) {
	s, out, _ := screen(nil)
	s.outTTY, s.errTTY = false, false
	require.Zero(t, run([]string{"diagnose", "demo:hard-short-main-rail"}, s))
	lines := strings.SplitAfter(out.String(), "\n")
	require.Greater(t, len(lines), screenLines)
	want := strings.TrimRight(strings.Join(lines[:screenLines], ""), "\n") + "\n"

	raw, err := os.ReadFile(readme)
	require.NoError(t, err)
	parts := strings.SplitN(string(raw), fence, 5)
	require.Len(t, parts, 5, "the two commands stand first, their screen second")
	if *update {
		require.Empty(t, os.Getenv("CI"), "goldens are not rewritten in CI")
		parts[3] = want
		require.NoError(t, os.WriteFile(readme, []byte(strings.Join(parts, fence)), 0o644))
		return
	}
	assert.Equal(t, want, parts[3])
}

// Every test that the guide for contributors names is there.
func TestTheGuideNamesRealTests(t *testing.T) {
	guide, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	var sources strings.Builder
	for _, pattern := range []string{"*_test.go", "*/*_test.go", "../../*/*_test.go", "../../*/*/*_test.go"} {
		files, err := filepath.Glob(pattern)
		require.NoError(t, err)
		for _, f := range files {
			source, err := os.ReadFile(f)
			require.NoError(t, err)
			sources.Write(source)
		}
	}
	names := regexp.MustCompile("`(Test[A-Z][A-Za-z0-9]+)`").FindAllStringSubmatch(string(guide), -1)
	require.NotEmpty(t, names)
	for _, n := range names {
		assert.Contains(t, sources.String(), "func "+n[1]+"(", n[1])
	}
	for _, n := range regexp.MustCompile("`([a-z-]+\\.txtar)`").FindAllStringSubmatch(string(guide), -1) {
		assert.FileExists(t, "testdata/script/"+n[1])
	}
}

// The table of how often the verdict is right is one that evaluate prints: its rows are
// those of a small run, in their order.
func TestReadmeShowsTheRealTable(t *testing.T) {
	s, out, _ := screen(nil)
	require.Zero(t, run([]string{"evaluate", "--cases", "4", "--quiet"}, s))
	labels := func(text string) []string {
		_, block, found := strings.Cut(text, "in short")
		require.True(t, found)
		var names []string
		for line := range strings.Lines(block) {
			if len(line) < 40 || !strings.HasPrefix(line, "  ") {
				if len(names) > 0 {
					break
				}
				continue
			}
			names = append(names, strings.TrimSpace(line[:42]))
		}
		return names
	}
	raw, err := os.ReadFile(readme)
	require.NoError(t, err)
	want := labels(out.String())
	require.Greater(t, len(want), 10)
	assert.Equal(t, want, labels(string(raw)))
}
