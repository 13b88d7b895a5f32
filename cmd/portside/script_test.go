package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

var update = flag.Bool("update", false, "rewrite the golden parts of the scripts")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"portside": main})
}

func TestScripts(t *testing.T) {
	if *update && os.Getenv("CI") != "" {
		t.Fatal("goldens are rewritten by hand, never by CI")
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("HOME", e.WorkDir+"/none")
			e.Setenv("NO_COLOR", "")
			e.Setenv("LANG", "C")
			e.Setenv("ESC", "\x1b")
			e.Setenv("RLO", "\u202e") // right-to-left override
			e.Setenv("ROOT", os.Getenv("PWD")+"/../..")
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits":  cmdExits,
			"schema": cmdSchema,
			"plain":  cmdPlain,
			"lines":  cmdLines,
			"raw":    cmdRaw,
		},
	})
}

// cmdExits runs a command and asks for its exact exit status:
// exits N portside ARG... ; a file named stdin in the work folder is its input.
func cmdExits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits N COMMAND...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	var exit *exec.ExitError
	if err != nil {
		if !asExit(err, &exit) {
			ts.Fatalf("%v", err)
		}
		got = exit.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d\nstderr: %s", got, want, ts.ReadFile("stderr"))
	}
}

func asExit(err error, to **exec.ExitError) bool {
	e, ok := err.(*exec.ExitError) //nolint:errorlint // Exec does not wrap
	*to = e
	return ok
}

// cmdSchema holds a JSON document, or each line of one, against a schema:
// schema NAME FILE [lines].
func cmdSchema(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: schema NAME FILE [lines]")
	}
	schema, err := jsonschema.NewCompiler().Compile(os.Getenv("PWD") + "/schema/" + args[0] + ".json")
	if err != nil {
		ts.Fatalf("%v", err)
	}
	docs := []string{ts.ReadFile(args[1])}
	if len(args) > 2 {
		docs = strings.Split(strings.TrimSpace(docs[0]), "\n")
	}
	for _, doc := range docs {
		v, err := jsonschema.UnmarshalJSON(strings.NewReader(doc))
		ts.Check(err)
		ts.Check(schema.Validate(v))
		if strings.Contains(doc, "0000000000") {
			ts.Fatalf("a figure with the noise of arithmetic: %s", doc)
		}
		if !json.Valid([]byte(doc)) {
			ts.Fatalf("more than one document")
		}
	}
}

// cmdPlain checks what goes into a pipe: at most 80 columns, no control
// characters, nothing but printable ASCII where the recording has no other.
func cmdPlain(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: plain FILE")
	}
	for i, line := range strings.Split(ts.ReadFile(args[0]), "\n") {
		if n := utf8.RuneCountInString(line); n > 80 {
			ts.Fatalf("line %d is %d columns wide: %s", i+1, n, line)
		}
		if at := bytes.IndexFunc([]byte(line), func(r rune) bool { return r < ' ' || r >= 0x7f }); at >= 0 {
			ts.Fatalf("line %d holds %q", i+1, line[at:])
		}
		if strings.TrimRight(line, " ") != line {
			ts.Fatalf("line %d ends in blanks", i+1)
		}
	}
}

// cmdLines counts the lines of a file: lines N FILE.
func cmdLines(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: lines N FILE")
	}
	if got := fmt.Sprint(strings.Count(ts.ReadFile(args[1]), "\n")); got != args[0] {
		ts.Fatalf("%s lines, want %s", got, args[0])
	}
}

// cmdRaw writes a file that a script cannot hold: raw FILE 'text', with \xNN
// and the like as in Go.
func cmdRaw(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: raw FILE TEXT")
	}
	text, err := strconv.Unquote(`"` + args[1] + `"`)
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o600))
}
