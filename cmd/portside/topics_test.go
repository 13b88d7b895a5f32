package main

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The topic lists every reading that is taken, and no other text grows stale
// beside it.
func TestReadingsTopicNamesEveryReading(t *testing.T) {
	raw, err := topicFiles.ReadFile("help/readings.txt")
	require.NoError(t, err)
	words := strings.Fields(string(raw))
	for _, name := range readingNames() {
		assert.Contains(t, words, strings.TrimSuffix(name, "="))
	}
}

func TestEveryTopicHasItsText(t *testing.T) {
	files, err := os.ReadDir("help")
	require.NoError(t, err)
	assert.Len(t, files, len(topics))
	for _, topic := range topics {
		raw, err := topicFiles.ReadFile("help/" + topic.name + ".txt")
		require.NoError(t, err)
		for i, line := range strings.Split(string(raw), "\n") {
			assert.LessOrEqual(t, len(line), helpWidth, "%s line %d", topic.name, i+1)
		}
		assert.LessOrEqual(t, len(topic.short), helpWidth-15)
	}
}
