package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// world is an invented country of any size: bases, their weather, and a file
// of their procedures.
type world struct {
	idents []string
	cold   int       // of a hundred bases, how many are below their line
	due    time.Time // when every base's morning begins
}

// Bases are X, a digit and two characters: none is a word that crews type.
const mostBases = 10 * 36 * 36

func newWorld(bases, cold int, due time.Time) world {
	const digits = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	w := world{cold: cold, due: due}
	for i := range bases {
		w.idents = append(w.idents, fmt.Sprintf("X%d%c%c", i%10, digits[i/10%36], digits[i/360%36]))
	}
	return w
}

// isCold spreads the cold bases evenly.
func (w world) isCold(i int) bool { return (i+1)*w.cold/100 > i*w.cold/100 }

// coldBases is how many alerts are due.
func (w world) coldBases() int { return len(w.idents) * w.cold / 100 }

// config is firn's configuration. Alerts of a base go to one of the chat
// channels and to the page.
func (w world) config() string {
	var b strings.Builder
	b.WriteString("rules: faa-all-segments\n" +
		"page: {listen: \"127.0.0.1:0\"}\n" +
		"store: {path: data/firn.db}\n" +
		"weather: [{kind: typed}, {kind: folder, path: weather}]\n" +
		"slack: {channels: [")
	for i := range channels {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(slackChannel(i))
	}
	b.WriteString("]}\nalerts: {digest: false}\nstations:\n")
	for i, ident := range w.idents {
		fmt.Fprintf(&b, "  - {ident: %s, name: Base %d, elevation_ft: %d, restriction_c: -25, mountainous: true, time_zone: Africa/Abidjan, "+
			"watch: {at: \"%s\", days: daily, channels: [\"slack:%s\", page]}}\n", ident, i, 2000+i%50*80, w.due.UTC().Format("15:04"), slackChannel(i%channels))
	}
	return b.String()
}

// weatherFile holds so many bases: a folder's file has a limit of size.
const weatherFile = 1000

// weather writes a METAR and a TAF a base, in the form whose times move with
// the clock.
func (w world) weather(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	var b bytes.Buffer
	for i, ident := range w.idents {
		now, low := "M08/M12", "M10"
		if w.isCold(i) {
			now, low = "M29/M33", "M31"
		}
		fmt.Fprintf(&b, "METAR %s {DDHHMM-7m}Z 00000KT 9999 FEW040 %s Q1031\n", ident, now)
		fmt.Fprintf(&b, "TAF %s {DDHHMM-30m}Z {DDHH}/{DDHH+30h} 00000KT CAVOK TN%s/{DDHH+9h}Z\n", ident, low)
		if (i+1)%weatherFile == 0 || i == len(w.idents)-1 {
			name := filepath.Join(dir, fmt.Sprintf("part%03d.demo.txt", i/weatherFile))
			if err := os.WriteFile(name, b.Bytes(), 0o600); err != nil {
				return err
			}
			b.Reset()
		}
	}
	return nil
}

// copied is the airport whose real records each invented one has.
const copied = "KBTV"

// procedures writes a coded file: the records of one real airport again and
// again, each time as another base's, until there are about so many.
func (w world) procedures(root, file string, records int) error {
	sample, err := os.ReadFile(filepath.Join(root, "testdata", "cifp", "sample.txt"))
	if err != nil {
		return err
	}
	var common, airport []string // the header, navigation aids and fixes; what is an airport's own
	for line := range strings.Lines(string(sample)) {
		switch {
		case strings.HasPrefix(line, "SUSAP "+copied):
			airport = append(airport, line)
		case !strings.HasPrefix(line, "SUSAP ") && !strings.HasPrefix(line, "SCANP "):
			common = append(common, line)
		}
	}
	f, err := os.Create(file)
	if err != nil {
		return err
	}
	defer f.Close()
	out := bufio.NewWriterSize(f, 1<<20)
	n := len(common)
	for _, line := range common {
		out.WriteString(line)
	}
	for _, ident := range newWorld(mostBases, 0, w.due).idents {
		if n >= records {
			break
		}
		for _, line := range airport {
			out.WriteString(strings.Replace(line, copied, ident, 1))
		}
		n += len(airport)
	}
	return cmpErr(out.Flush(), f.Close())
}

// root is the repository's folder.
func root(ctx context.Context) (string, error) {
	out, err := exec.CommandContext(ctx, "go", "list", "-m", "-f", "{{.Dir}}", "firn").Output()
	if err != nil {
		return "", fmt.Errorf("run this from within the repository: %w", err)
	}
	return strings.TrimSpace(string(out)), nil
}

// profiling is what a build of firn has besides when profiles are wanted: the
// program that people run serves none.
const profiling = `package main

import (
	"net/http"
	_ "net/http/pprof"
	"os"
)

func init() { go http.ListenAndServe(os.Getenv("FIRN_LOAD_PPROF"), nil) }
`

// build builds firn, with a listener for profiles if that is wanted.
func build(ctx context.Context, root, into string, profiled bool) error {
	args := []string{"build", "-o", into}
	if profiled {
		extra := filepath.Join(filepath.Dir(into), "profiling.go")
		overlay := filepath.Join(filepath.Dir(into), "overlay.json")
		err := cmpErr(os.WriteFile(extra, []byte(profiling), 0o600),
			os.WriteFile(overlay, fmt.Appendf(nil, `{"Replace": {%q: %q}}`, filepath.Join(root, "cmd", "firn", "profiling.go"), extra), 0o600))
		if err != nil {
			return err
		}
		args = append(args, "-overlay", overlay)
	}
	cmd := exec.CommandContext(ctx, "go", append(args, "firn/cmd/firn")...)
	cmd.Dir = root
	if msg, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("build firn: %w\n%s", err, msg)
	}
	return nil
}

// end asks a process to end, where it was started, and waits until what it says has
// been read.
func end(cmd *exec.Cmd, read <-chan struct{}) {
	if cmd == nil || cmd.Process == nil {
		return
	}
	_ = cmd.Process.Signal(os.Interrupt)
	<-read
	_ = cmd.Wait()
}
