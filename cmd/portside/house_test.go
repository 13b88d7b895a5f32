package main

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// floors lists, for each floor of the house, what it must not import and why.
var floors = []struct {
	floor, forbidden, why string
}{
	{"portside/pd", "portside/captures", "pd is the published standard and stands alone, so that others can use it"},
	{"portside/pd", "portside/decode", "pd is the published standard and stands alone, so that others can use it"},
	{"portside/pd", "portside/cmd", "pd is the published standard and stands alone, so that others can use it"},
	{"portside/captures", "portside/decode", "captures says what was recorded; what it means is decided above it"},
	{"portside/captures", "portside/cmd", "data flows from captures to cmd, never back"},
	{"portside/decode", "portside/cmd", "decode must not know how its results are shown"},
	{"portside/decode", "net/http", "decode knows no network: a verdict comes from the recording alone"},
	{"portside/pd", "net/http", "the standard needs no network"},
}

// listed is what go list says of one package.
type listed struct {
	ImportPath string
	Deps       []string
}

func TestImportsFlowOneWay(t *testing.T) {
	cmd := exec.Command("go", "list", "-deps", "-json=ImportPath,Deps", "portside/...")
	out, err := cmd.Output()
	require.NoError(t, err, "go list must be able to walk the module")

	seen := map[string]bool{}
	dec := json.NewDecoder(strings.NewReader(string(out)))
	for {
		var p listed
		err := dec.Decode(&p)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		for _, f := range floors {
			if !under(p.ImportPath, f.floor) {
				continue
			}
			seen[f.floor] = true
			for _, dep := range p.Deps {
				if under(dep, f.forbidden) {
					t.Errorf("%s imports %s: %s", p.ImportPath, dep, f.why)
				}
			}
		}
	}
	for _, f := range floors {
		require.True(t, seen[f.floor], "no package under %s was looked at: the check would pass on an empty house", f.floor)
	}
}

// under reports whether path is the package root or lies below it.
func under(path, root string) bool {
	return path == root || strings.HasPrefix(path, root+"/")
}
