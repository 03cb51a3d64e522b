package main

import (
	"bytes"
	"flag"
	"github.com/rogpeppe/go-internal/testscript"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"firn/adapters/sqlstore"
	"firn/bot/app"
	"firn/bot/bases"
	"firn/bot/config"
)

func TestMain(m *testing.M) {
	if os.Getenv(childPlain) != "" {
		if fits, err := strconv.ParseUint(os.Getenv(childFits), 10, 64); err == nil {
			limitFiles(fits)
		}
		pace, _ := time.ParseDuration(os.Getenv(childLive)) // without one 0: as people run it
		os.Exit(thisProcess(app.Pace{Live: pace}))
	}
	// Most of these tests wait, for processes and for the clock, and not for a
	// core. A flag on the command line still decides.
	if err := flag.Set("test.parallel", strconv.Itoa(3*runtime.GOMAXPROCS(0))); err != nil {
		panic(err)
	}
	testscript.Main(m, map[string]func(){
		"firn": main,
	})
}

// TestScripts runs testdata/script: each is what a person types and sees.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script", UpdateScripts: os.Getenv("UPDATE_SCRIPTS") != "",
		Setup: func(e *testscript.Env) error {
			sample, err := filepath.Abs("../../testdata/cifp/sample.txt")
			e.Setenv("SAMPLE", sample)
			e.Setenv("AIRFIELDS", filepath.Join(filepath.Dir(filepath.Dir(sample)), "airports"))
			return err
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"waitfor": waitFor, "waitok": waitOK, "begun": putBegun},
	})
}

// putBegun puts the hour of a zone at which a duty window began for BEGUN in a file.
func putBegun(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: begun ZONE FILE")
	}
	file := ts.MkAbs(args[1])
	ts.Check(os.WriteFile(file, []byte(strings.ReplaceAll(ts.ReadFile(args[1]), "BEGUN", begun(args[0]))), 0o600))
}

// waitFor waits until a file has something in it, or the given text: what runs
// in the background needs its time.
func waitFor(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 || len(args) > 2 {
		ts.Fatalf("usage: waitfor FILE [TEXT]")
	}
	for range 1500 {
		data, err := os.ReadFile(ts.MkAbs(args[0]))
		if err == nil && len(data) > 0 && (len(args) == 1 || bytes.Contains(data, []byte(args[1]))) {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	ts.Fatalf("%s did not come", args[0])
}

// waitOK runs a program until it ends well: what it looks at may not run yet.
func waitOK(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) == 0 {
		ts.Fatalf("usage: waitok PROGRAM [ARGS]")
	}
	for range 150 {
		if ts.Exec(args[0], args[1:]...) == nil {
			return
		}
		time.Sleep(200 * time.Millisecond)
	}
	ts.Fatalf("%q did not end well", args)
}

// TestDemoIsTheExample holds the embedded configuration to the file that
// people are told to copy.
func TestDemoIsTheExample(t *testing.T) {
	example, err := os.ReadFile("../../config.example.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(example, demo) {
		t.Error("cmd/firn/demo.yaml differs from config.example.yaml; run go generate ./cmd/firn")
	}
	for _, folder := range []string{"demo-weather", "demo-procedures"} {
		shown := os.DirFS(filepath.Join("..", "..", "testdata", folder))
		brought, err := fs.Sub(demoFiles, folder)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := contents(t, brought), contents(t, shown); !maps.Equal(got, want) {
			t.Errorf("cmd/firn/%s differs from testdata/%s; run go generate ./cmd/firn", folder, folder)
		}
	}
}

// contents are the texts of a folder's files by name, without its README.
func contents(t *testing.T, files fs.FS) map[string]string {
	t.Helper()
	all := map[string]string{}
	entries, err := fs.ReadDir(files, ".")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if e.Name() == "README.md" {
			continue
		}
		data, err := fs.ReadFile(files, e.Name())
		if err != nil {
			t.Fatal(err)
		}
		all[e.Name()] = string(data)
	}
	return all
}

// TestDemoAnywhere asks for forecasts and stored procedures in a folder that
// has none of the demo region's files.
func TestDemoAnywhere(t *testing.T) {
	t.Chdir(t.TempDir())
	for text, want := range map[string]string{"brief XKLD 1430Z": "XKLD rnav 31: ", "XKLD rnp 31": "latest observation, METAR"} {
		var out, said bytes.Buffer
		h := host{stdout: &out, stderr: &said, now: func() time.Time { return time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC) }}
		if code := run(t.Context(), append([]string{"ask"}, strings.Fields(text)...), h); code != exitAnswered || !strings.Contains(out.String(), want) || strings.Contains(said.String(), "WARN") {
			t.Errorf("%q: exit %d, %s%s", text, code, out.String(), said.String())
		}
	}
}

func TestSplitMessage(t *testing.T) {
	for _, c := range []struct {
		name    string
		args    []string
		rest    []string
		message string
	}{
		{"a minus sign first", []string{"ask", "-38", "elev", "4802", "8200"}, []string{"ask"}, "-38 elev 4802 8200"},
		{"the dashes before it", []string{"ask", "--", "-38", "elev 4802: 8200"}, []string{"ask"}, "-38 elev 4802: 8200"},
		{"flags before the message", []string{"ask", "--config", "a.yaml", "--json", "-38", "8200"}, []string{"ask", "--config", "a.yaml", "--json"}, "-38 8200"},
		{"a flag with an equals sign", []string{"ask", "--config=a.yaml", "XKLD"}, []string{"ask", "--config=a.yaml"}, "XKLD"},
		{"flags behind the message", []string{"ask", "XKLD", "-38", "8200", "--json", "--config", "a.yaml"}, []string{"ask", "--json", "--config", "a.yaml"}, "XKLD -38 8200"},
		{"flags before and behind the message", []string{"picture", "--svg", "XKLD rnav 31", "-38", "-o", "a.svg"}, []string{"picture", "--svg", "-o", "a.svg"}, "XKLD rnav 31 -38"},
		{"a flag behind the message that lacks its value", []string{"ask", "XKLD", "--config"}, []string{"ask", "--config"}, "XKLD"},
		{"a flag within the message belongs to it", []string{"ask", "XKLD", "--json", "8200"}, []string{"ask"}, "XKLD --json 8200"},
		{"a flag behind the dashes belongs to the message", []string{"ask", "--", "XKLD", "--json"}, []string{"ask"}, "XKLD --json"},
		{"a flag that is none", []string{"ask", "--jsn", "XKLD"}, []string{"ask"}, "--jsn XKLD"},
		{"lines from stdin", []string{"ask", "--json", "-"}, []string{"ask", "--json"}, "-"},
		{"decode", []string{"decode", "--at", "2026-01-15T12:00:00Z", "--json", "-"}, []string{"decode", "--at", "2026-01-15T12:00:00Z", "--json"}, "-"},
		{"help of a command", []string{"ask", "--help"}, []string{"ask", "--help"}, ""},
		{"another command", []string{"chat", "--config", "a.yaml"}, []string{"chat", "--config", "a.yaml"}, ""},
		{"nothing", nil, nil, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			rest, message := splitMessage(c.args)
			if message != c.message || len(rest) != len(c.rest) {
				t.Fatalf("splitMessage(%q) = %q, %q; want %q, %q", c.args, rest, message, c.rest, c.message)
			}
			for i := range rest {
				if rest[i] != c.rest[i] {
					t.Errorf("splitMessage(%q) = %q, want %q", c.args, rest, c.rest)
				}
			}
		})
	}
}

// TestWatchShowsAddedBases: the table has the bases that duty officers added to the
// store that serve has, which --data names.
func TestWatchShowsAddedBases(t *testing.T) {
	m := newMover(t)
	data := filepath.Join(m.dir, "elsewhere")
	if err := os.WriteFile(m.config, []byte("weather: [{kind: typed}]\nstations: [{ident: XKLD, elevation_ft: 4802}]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := sqlstore.OpenSQLite(t.Context(), filepath.Join(data, "firn.db"), sqlstore.MayCreate)
	if err != nil {
		t.Fatal(err)
	}
	b := bases.Base{Ident: "XKLD", At: config.TimeOfDay{Hour: 6}, Window: 12 * time.Hour, By: "somebody", Made: time.Now()}
	if fresh, err := s.AddBase(t.Context(), b, nil); err != nil || !fresh {
		t.Fatal(fresh, err)
	}
	m.close(s)
	for _, args := range [][]string{{"watch", "--data", data}, {"watch", "show", "--data", data}, {"watch", "run", "--once", "--data", data}} {
		var out bytes.Buffer
		h := host{stdout: &out, stderr: &out, getenv: func(string) string { return "" }, now: time.Now}
		if code := run(t.Context(), append(args, "--config", m.config), h); code != exitAnswered || !strings.Contains(out.String(), "XKLD  NO FORECAST") {
			t.Errorf("%q: exit %d\n%s", args, code, &out)
		}
	}
}

// full is a disk that takes nothing.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, syscall.ENOSPC }

// TestStdoutIsFull: a command that could not say what it was asked for has failed,
// and says so once; a link that nobody has seen lets nobody in.
func TestStdoutIsFull(t *testing.T) {
	m := newMover(t)
	m.close(m.open())
	for _, args := range [][]string{
		{"version"}, {"--version"}, {"--help"}, {"help"}, {"help", "ask"}, {"completion", "bash"}, {"ask", "XKLD", "-38", "8200"}, {"ask", "XKLD"},
		{"access", "add", "anna"}, {"access", "list"}, {"watch"}, {"doctor"}, {"export"}, {"backup", filepath.Join(m.dir, "copy.db")},
	} {
		var said bytes.Buffer
		if !slices.Contains([]string{"version", "--version", "--help", "help", "completion"}, args[0]) {
			args = append(args, "--config", m.config)
		}
		h := host{stdin: strings.NewReader(""), stdout: full{}, stderr: &said, getenv: func(string) string { return "" }, now: time.Now}
		if code := run(t.Context(), args, h); code != exitOther || strings.Count(said.String(), "no space left on device") != 1 {
			t.Errorf("%q: exit %d, want %d, and the reason once:\n%s", args, code, exitOther, &said)
		}
	}
	s := m.open()
	defer m.close(s)
	all, err := s.Tokens(t.Context())
	if err != nil || len(all) != 1 || all[0].Good(time.Now()) {
		t.Errorf("the link that was not shown: %+v, %v", all, err)
	}
}
