package bench_test

import (
	"fmt"

	"portside/captures/bench"
	"portside/pd"
)

func ExampleSimulate() {
	s, _ := bench.Find("request-never-sent")
	s.Parameters.DurationS = 5
	run, err := bench.Simulate(s, 1)
	if err != nil {
		fmt.Println(err)
		return
	}
	resets := 0
	for _, m := range run.Messages {
		if m.Set == pd.HardReset {
			resets++
		}
	}
	fmt.Println(run.Truth().Location, resets)
	// Output: at-port 2
}

func ExampleRanges() {
	for _, r := range bench.Ranges() {
		if r.Name == "cable_ohm" {
			fmt.Println(r.Min, r.Max, r.Source)
		}
	}
	// Output: 0.01 5 loop at most 0.25 ohm at 3 A: USB Type-C R2.0 section 4.4.1
}
