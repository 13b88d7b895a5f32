package demo_test

import (
	"bufio"
	"fmt"

	"portside/captures/demo"
)

func ExampleOpen() {
	files, err := demo.Open("hard-short-main-rail")
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range files {
		lines := bufio.NewScanner(f.Data)
		lines.Scan()
		fmt.Println(f.Label, lines.Text())
	}
	// Output:
	// demo:hard-short-main-rail/messages.csv time_s,end_s,sop,bytes
	// demo:hard-short-main-rail/meter.csv time_s,voltage_V,current_A
}

func ExampleOpen_typo() {
	_, err := demo.Open("hard-shrot-main-rail")
	fmt.Println(err)
	// Output: no such demo recording: "hard-shrot-main-rail"; the nearest is "hard-short-main-rail"
}
