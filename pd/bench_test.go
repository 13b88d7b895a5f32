//go:build unix

package pd_test

import (
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"portside/pd"
)

// perCPUSecond reports messages a second of processor time, which a busy machine does not
// change.
func perCPUSecond(b *testing.B, messages int, since time.Duration) {
	b.ReportMetric(float64(messages)/(processorTime(b)-since).Seconds(), "msgs/cpu-s")
}

func processorTime(b *testing.B) time.Duration {
	b.Helper()
	var usage syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &usage))
	return time.Duration(usage.Utime.Nano() + usage.Stime.Nano())
}

// BenchmarkDecodeTraffic reads the packets of a negotiation into typed form.
func BenchmarkDecodeTraffic(b *testing.B) {
	sets, wire := traffic(b)
	start := processorTime(b)
	sum, messages := 0, 0
	for b.Loop() {
		for i, packet := range wire {
			sum += typed(sets[i], packet)
		}
		messages += len(wire)
	}
	require.NotZero(b, sum)
	perCPUSecond(b, messages, start)
}

// BenchmarkDecodeOffer reads the message with the most to read: six supply objects.
func BenchmarkDecodeOffer(b *testing.B) {
	sets, wire := traffic(b)
	start := processorTime(b)
	sum := 0
	for b.Loop() {
		sum += typed(sets[4], wire[4])
	}
	require.NotZero(b, sum)
	perCPUSecond(b, b.N, start)
}

// BenchmarkValidate judges the packets of a negotiation, which break nothing.
func BenchmarkValidate(b *testing.B) {
	sets, wire := traffic(b)
	start := processorTime(b)
	broken, messages := 0, 0
	for b.Loop() {
		for i, packet := range wire {
			m, _ := pd.ParseMessage(sets[i], packet)
			broken += len(m.Validate(pd.Revision32))
		}
		messages += len(wire)
	}
	require.Zero(b, broken)
	perCPUSecond(b, messages, start)
}
