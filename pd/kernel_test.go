package pd_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// pd against an implementation by other hands: the USB PD headers of the Linux kernel, as
// the Debian package linux-headers-*-common installs them. They are compiled where they
// lie, with stubs in place of what else they include; nothing of them is copied here.

// kernelCheck is one macro or function of those headers and what pd makes of the same words.
type kernelCheck struct {
	name   string   // macro or function
	call   string   // in C; a, b, c and so on are random numbers
	limits []uint32 // the largest of each of them that the macro covers
	pd     func(x []uint32) uint32
}

// kernelConstant is a constant of those headers and what pd says in its place.
type kernelConstant struct {
	name string
	pd   uint32
}

// kernelWords is how many random words each check takes.
const kernelWords = 10_000

// kernelHeaders is where a version of the headers lies.
type kernelHeaders struct {
	dir     string // of pd.h and its neighbours
	version [3]int
	text    string // of all four, to see what they have
}

var kernelHeaderNames = []string{"pd.h", "pd_vdo.h", "pd_ado.h", "pd_bdo.h"}

// findKernelHeaders takes the newest of the installed headers, or skips the test.
func findKernelHeaders(t *testing.T) kernelHeaders {
	t.Helper()
	if _, err := exec.LookPath("gcc"); err != nil {
		t.Skip("no gcc: pd was NOT checked against the Linux kernel's headers (.ci/headers installs both)")
	}
	roots, err := filepath.Glob("/usr/src/linux-headers-*-common")
	require.NoError(t, err)
	var newest kernelHeaders
	for _, root := range roots {
		dir := filepath.Join(root, "include", "linux", "usb")
		if _, err := os.Stat(filepath.Join(dir, "pd.h")); err != nil {
			continue
		}
		if v := kernelVersion(t, root); newest.dir == "" || slices.Compare(v[:], newest.version[:]) > 0 {
			newest = kernelHeaders{dir: dir, version: v}
		}
	}
	if newest.dir == "" {
		t.Skip("no linux-headers-*-common: pd was NOT checked against the Linux kernel's headers (.ci/headers installs them)")
	}
	for _, name := range kernelHeaderNames {
		b, err := os.ReadFile(filepath.Join(newest.dir, name))
		require.NoError(t, err)
		newest.text += string(b)
	}
	return newest
}

var kernelVersionLine = regexp.MustCompile(`(?m)^(?:VERSION|PATCHLEVEL|SUBLEVEL) = (\d+)$`)

func kernelVersion(t *testing.T, root string) (v [3]int) {
	t.Helper()
	makefile, err := os.ReadFile(filepath.Join(root, "Makefile"))
	require.NoError(t, err)
	lines := kernelVersionLine.FindAllSubmatch(makefile, -1)
	require.Len(t, lines, len(v))
	for i, line := range lines {
		v[i], err = strconv.Atoi(string(line[1]))
		require.NoError(t, err)
	}
	return v
}

// has reports whether the headers know the name, as older ones lack some.
func (h kernelHeaders) has(name string) bool {
	return regexp.MustCompile(`\b` + regexp.QuoteMeta(name) + `\b`).MatchString(h.text)
}

// newerThan reports whether the headers are of a later release than the one given.
func (h kernelHeaders) newerThan(major, minor int) bool {
	return slices.Compare(h.version[:2], []int{major, minor}) > 0
}

// operations are the names of all macros with arguments and all functions.
func (h kernelHeaders) operations() (names []string) {
	operation := regexp.MustCompile(`(?m)^#define\s+(\w+)\(|^static inline [\w ]+?(\w+)\(`)
	for _, m := range operation.FindAllStringSubmatch(h.text, -1) {
		names = append(names, m[1]+m[2])
	}
	return names
}

// What the headers include beside each other, as far as they need it.
var kernelStubs = map[string]string{
	"linux/types.h": `
typedef unsigned char u8;
typedef unsigned short u16;
typedef unsigned int u32;
typedef u16 __le16;
typedef u32 __le32;
#define __packed __attribute__((packed))
`,
	"linux/bits.h": `
#define BIT(n) (1u << (n))
#define GENMASK(h, l) ((~0u << (l)) & (~0u >> (31 - (h))))
`,
	"linux/kernel.h": `
#include <linux/types.h>
#include <linux/bits.h>
#define IS_ENABLED(option) 1
struct device;
#define cpu_to_le16(x) ((__le16)(x))
#define cpu_to_le32(x) ((__le32)(x))
#define le16_to_cpu(x) ((u16)(x))
#define le32_to_cpu(x) ((u32)(x))
`,
	"linux/usb/typec.h": `
enum typec_role { TYPEC_SINK, TYPEC_SOURCE };
enum typec_data_role { TYPEC_DEVICE, TYPEC_HOST };
`,
}

// kernelProgram is a C program that reads the random numbers of every check from its input
// and writes first the results and then the constants to its output.
func kernelProgram(h kernelHeaders, checks []kernelCheck, constants []kernelConstant) string {
	var c strings.Builder
	c.WriteString("#include <stdio.h>\n#include <linux/kernel.h>\n")
	for _, name := range kernelHeaderNames {
		fmt.Fprintf(&c, "#include %q\n", filepath.Join(h.dir, name))
	}
	for i, check := range checks {
		fmt.Fprintf(&c, "static u32 check%d(const u32 *x)\n{\n", i)
		for j := range check.limits {
			fmt.Fprintf(&c, "\tu32 %c = x[%d];\n", 'a'+j, j)
		}
		fmt.Fprintf(&c, "\treturn (u32)(%s);\n}\n", check.call)
	}
	c.WriteString("static const struct { u32 (*do_it)(const u32 *); size_t n; } checks[] = {\n")
	for i, check := range checks {
		fmt.Fprintf(&c, "\t{ check%d, %d },\n", i, len(check.limits))
	}
	c.WriteString("};\nstatic const u32 constants[] = {\n")
	for _, constant := range constants {
		fmt.Fprintf(&c, "\t(u32)(%s),\n", constant.name)
	}
	fmt.Fprintf(&c, `};
int main(void)
{
	u32 x[26];
	for (size_t i = 0; i < sizeof checks / sizeof *checks; i++) {
		for (int k = 0; k < %d; k++) {
			if (fread(x, sizeof *x, checks[i].n, stdin) != checks[i].n)
				return 1;
			u32 y = checks[i].do_it(x);
			fwrite(&y, sizeof y, 1, stdout);
		}
	}
	fwrite(constants, sizeof *constants, sizeof constants / sizeof *constants, stdout);
	return 0;
}
`, kernelWords)
	return c.String()
}

// runKernelProgram compiles and runs the program on the words and gives what it wrote.
func runKernelProgram(t *testing.T, source string, words []uint32) []uint32 {
	t.Helper()
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return path
	}
	for name, text := range kernelStubs {
		write(filepath.Join("stubs", name), text)
	}
	program := filepath.Join(dir, "kernel")
	out, err := exec.Command("gcc", "-w", "-O1", "-I", filepath.Join(dir, "stubs"), "-o", program, write("kernel.c", source)).CombinedOutput()
	require.NoError(t, err, "%s", out)

	var input bytes.Buffer
	require.NoError(t, binary.Write(&input, binary.NativeEndian, words))
	run := exec.Command(program)
	run.Stdin = &input
	raw, err := run.Output()
	require.NoError(t, err)
	results := make([]uint32, len(raw)/4)
	require.NoError(t, binary.Read(bytes.NewReader(raw), binary.NativeEndian, results))
	return results
}

// kernelRun are the words of every check and what the headers made of them.
type kernelRun struct {
	words, results [][]uint32 // by check
	constants      []uint32
}

func runKernel(t *testing.T, h kernelHeaders, checks []kernelCheck, constants []kernelConstant) kernelRun {
	t.Helper()
	random := rand.New(rand.NewPCG(5, 6))
	var all []uint32
	run := kernelRun{}
	for _, c := range checks {
		start := len(all)
		for range kernelWords {
			for _, limit := range c.limits {
				all = append(all, uint32(random.Uint64N(uint64(limit)+1)))
			}
		}
		run.words = append(run.words, all[start:])
	}
	results := runKernelProgram(t, kernelProgram(h, checks, constants), all)
	require.Len(t, results, len(checks)*kernelWords+len(constants))
	for range checks {
		run.results = append(run.results, results[:kernelWords])
		results = results[kernelWords:]
	}
	run.constants = results
	return run
}

// differences counts the words where f and the headers disagree, and says the first.
func (c kernelCheck) differences(words, results []uint32, f func([]uint32) uint32) (n int, first string) {
	for k, want := range results {
		x := words[k*len(c.limits) : (k+1)*len(c.limits)]
		got := f(x)
		if got == want {
			continue
		}
		if n == 0 {
			first = fmt.Sprintf("%s with %#x: pd 0x%08X, kernel 0x%08X", c.call, x, got, want)
		}
		n++
	}
	return n, first
}

func TestAgainstTheLinuxHeaders(t *testing.T) {
	h := findKernelHeaders(t)
	t.Logf("Linux headers %d.%d.%d in %s", h.version[0], h.version[1], h.version[2], h.dir)
	checks := slices.DeleteFunc(slices.Clone(kernelChecks), func(c kernelCheck) bool { return !h.has(c.name) })
	constants := slices.DeleteFunc(slices.Clone(kernelConstants), func(c kernelConstant) bool { return !h.has(c.name) })
	run := runKernel(t, h, checks, constants)
	for i, c := range checks {
		t.Run(c.name, func(t *testing.T) {
			n, first := c.differences(run.words[i], run.results[i], c.pd)
			assert.Zero(t, n, first)
		})
	}
	for i, c := range constants {
		assert.Equal(t, run.constants[i], c.pd, c.name)
	}
	t.Logf("%d macros and functions on %d words each, %d constants", len(checks), kernelWords, len(constants))
}

// Where the headers are older than the standard, or relaxed, the difference is exactly the
// one that the clause explains: read the old way pd agrees, read the new way it does not.
func TestWhereTheLinuxHeadersDiffer(t *testing.T) {
	h := findKernelHeaders(t)
	list := slices.DeleteFunc(slices.Clone(kernelDifferences), func(d kernelDifference) bool { return !h.has(d.name) })
	var checks []kernelCheck
	for _, d := range list {
		checks = append(checks, d.kernelCheck)
	}
	run := runKernel(t, h, checks, nil)
	for i, d := range list {
		t.Run(d.name, func(t *testing.T) {
			n, _ := d.differences(run.words[i], run.results[i], d.standard)
			if n == 0 && h.newerThan(6, 12) {
				t.Skipf("newer headers that differ no more: %s", d.clause)
			}
			assert.Positive(t, n, "no difference, yet %s", d.clause)
			odd, first := d.differences(run.words[i], run.results[i], d.pd)
			assert.Zero(t, odd, "read the old way: %s", first)
			t.Logf("%d of %d words differ: %s", n, kernelWords, d.clause)
		})
	}
}

// The times of the headers lie inside the limits of the standard, or fall outside them for
// the reason given.
func TestTimesOfTheLinuxHeaders(t *testing.T) {
	h := findKernelHeaders(t)
	times := slices.DeleteFunc(slices.Clone(kernelTimes), func(c kernelTime) bool { return !h.has(c.name) })
	var constants []kernelConstant
	for _, c := range times {
		constants = append(constants, kernelConstant{name: c.name})
	}
	run := runKernel(t, h, nil, constants)
	for i, c := range times {
		t.Run(c.name, func(t *testing.T) {
			l := c.parameter.Limits(c.revision)
			const milli = 1000
			value := float64(run.constants[i]) / milli
			if l.Unit == "" {
				value = float64(run.constants[i])
			}
			least, most := l.MinSI(), l.MaxSI()
			if l.Nom.Given && !l.Min.Given && !l.Max.Given {
				least, most = l.NomSI(), l.NomSI()
			}
			inside := !(value < least) && !(value > most) // a limit not given is NaN
			assert.Equal(t, c.differs == "", inside, "%s: %g of %g to %g; %s", l.Name, value, least, most, c.differs)
		})
	}
}

// No macro and no function of the headers is left out unsaid. Newer headers than the ones
// this list was made for may have more: they are named and fail nothing.
func TestLinuxHeadersAreCovered(t *testing.T) {
	h := findKernelHeaders(t)
	listed := map[string]bool{}
	for _, c := range kernelChecks {
		listed[c.name] = true
	}
	for _, name := range kernelLeftOut {
		listed[name] = true
	}
	var missing []string
	for _, name := range h.operations() {
		if !listed[name] {
			missing = append(missing, name)
		}
	}
	if h.newerThan(6, 1) {
		t.Logf("newer headers than known; not compared: %v", missing)
		return
	}
	assert.Empty(t, missing)
	assert.Greater(t, len(h.operations()), 90)
}

// Messages of later revisions than the headers': codes they call reserved and pd knows (USB
// PD R3.2 V1.1, tables 6.5, 6.6 and 6.53).
func TestMessagesTheLinuxHeadersLack(t *testing.T) {
	h := findKernelHeaders(t)
	if h.newerThan(6, 12) {
		t.Skip("newer headers, which may have them")
	}
	later := map[string][]pd.MessageType{
		"PD_CTRL_(DATA_RESET|GET_SINK_CAP_EXT|GET_SOURCE_INFO|GET_REVISION)": {
			pd.DataReset, pd.DataResetComplete, pd.GetSinkCapExtended, pd.GetSourceInfo, pd.GetRevision,
		},
		"PD_DATA_(EPR_|SOURCE_INFO|REVISION)": {pd.EPRRequest, pd.EPRMode, pd.SourceInfo, pd.RevisionMessage},
		"PD_EXT_(SINK_CAP_EXT|EXT_CONTROL|EPR_|VENDOR_DEF)": {
			pd.SinkCapabilitiesExtended, pd.ExtendedControl, pd.EPRSourceCapabilities, pd.EPRSinkCapabilities, pd.VendorDefinedExtended,
		},
	}
	for names, types := range later {
		assert.NotRegexp(t, `\b`+names, h.text)
		for _, mt := range types {
			assert.True(t, mt.Defined(), mt.String())
		}
	}
}
