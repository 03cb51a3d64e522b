package main

import (
	"bytes"
	"debug/elf"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/prometheus/client_golang/prometheus"

	"firn/adapters/health"
	"firn/adapters/testkit/installed"
	"firn/bot/app"
	"firn/bot/outbox"
)

// TestAlertRules holds the rules for Prometheus to the figures that there
// are, and to what their labels can be.
func TestAlertRules(t *testing.T) {
	data, err := os.ReadFile("deploy/alerts.yaml")
	if err != nil {
		t.Fatal(err)
	}
	type rule struct {
		Alert, Expr, For    string
		Labels, Annotations map[string]string
	}
	var file struct {
		Groups []struct {
			Name  string
			Rules []rule
		}
	}
	if err := yaml.UnmarshalWithOptions(data, &file, yaml.Strict()); err != nil {
		t.Fatal(err)
	}
	labels := map[string][]string{}
	for _, g := range (&app.App{}).Gauges() {
		labels[g.Name] = g.Labels
	}
	described := regexp.MustCompile(`fqName: "(\w+)".*variableLabels: \{([\w,]*)\}`)
	for _, c := range health.NewMeters(health.Build{}).Collectors() {
		all := make(chan *prometheus.Desc, 1)
		c.Describe(all)
		m := described.FindStringSubmatch((<-all).String())
		labels[m[1]] = strings.Split(m[2], ",")
		if strings.HasSuffix(m[1], "_seconds") {
			labels[m[1]+"_bucket"] = append(strings.Split(m[2], ","), "le")
		}
	}
	values := map[string][]string{
		"state":   {"below", "near", "clear", "part-forecast", "no-forecast"},
		"outcome": {app.Answered, app.Question, app.Failed, string(outbox.Sent), string(outbox.Found), string(outbox.Retried), string(outbox.Waited), string(outbox.GaveUp), string(outbox.Lost), string(outbox.Failed)},
	}
	metric := regexp.MustCompile(`\b(firn_\w+)(?:\{(\w+)=~?"([^"]*)"\})?`)
	by := regexp.MustCompile(`by \(([\w, ]+)\)`)
	said := regexp.MustCompile(`\$labels\.(\w+)`)
	used := map[string]bool{}
	for _, g := range file.Groups {
		for _, r := range g.Rules {
			if r.Alert == "" || r.Expr == "" || r.Annotations["summary"] == "" || r.Labels["severity"] != "page" && r.Labels["severity"] != "ticket" {
				t.Errorf("%+v lacks something", r)
			}
			var has []string
			for _, m := range metric.FindAllStringSubmatch(r.Expr, -1) {
				name, label := m[1], m[2]
				own, ok := labels[name]
				if !ok {
					t.Errorf("%s: there is no figure %s", r.Alert, name)
				}
				used[name], has = true, append(has, own...)
				if label == "" {
					continue
				}
				if !slices.Contains(own, label) {
					t.Errorf("%s: %s has no label %s", r.Alert, name, label)
				}
				for v := range strings.SplitSeq(m[3], "|") {
					if !slices.Contains(values[label], v) {
						t.Errorf("%s: %s is never %q", r.Alert, label, v)
					}
				}
			}
			for _, text := range []string{r.Expr, r.Annotations["summary"], r.Annotations["action"]} {
				for _, m := range append(by.FindAllStringSubmatch(text, -1), said.FindAllStringSubmatch(text, -1)...) {
					for label := range strings.SplitSeq(m[1], ", ") {
						if !slices.Contains(has, label) {
							t.Errorf("%s: none of its figures has the label %s", r.Alert, label)
						}
					}
				}
			}
			if strings.Count(r.Expr, "(") != strings.Count(r.Expr, ")") {
				t.Errorf("%s: brackets do not match: %s", r.Alert, r.Expr)
			}
		}
	}
	for name := range labels {
		if !used[name] && !used[name+"_bucket"] {
			t.Errorf("no rule looks at %s", name)
		}
	}
}

// TestStatic builds as the Dockerfile does: a binary that needs no library and
// no loader runs in an empty image. That compiles everything once more, which
// .ci/run has the time for; elsewhere it is that nothing but Go's own packages
// would want a C library, and those do without.
func TestStatic(t *testing.T) {
	t.Parallel()
	docker, err := os.ReadFile("deploy/Dockerfile")
	if err != nil {
		t.Fatal(err)
	}
	mod, err := os.ReadFile("../../go.mod")
	if err != nil {
		t.Fatal(err)
	}
	want := regexp.MustCompile(`(?m)^go (\d+\.\d+)`).FindStringSubmatch(string(mod))[1]
	for _, line := range []string{"FROM golang:" + want + " AS build", "CGO_ENABLED=0 go build", "FROM scratch", "USER 65532:65532"} {
		if !strings.Contains(string(docker), line) {
			t.Errorf("the Dockerfile has no %q", line)
		}
	}
	if os.Getenv(installed.All) != "1" {
		cmd := exec.Command("go", "list", "-deps", "-f", "{{if and .CgoFiles (not .Standard)}}{{.ImportPath}}{{end}}", ".")
		cmd.Env = append(os.Environ(), "CGO_ENABLED=1", "GOOS=linux")
		if out, err := cmd.CombinedOutput(); err != nil || len(bytes.TrimSpace(out)) > 0 {
			t.Errorf("packages with C: %s, %v", out, err)
		}
		return
	}
	binary := filepath.Join(t.TempDir(), "firn")
	cmd := exec.Command("go", "build", "-o", binary, ".")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	f, err := elf.Open(binary)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if libraries, err := f.ImportedLibraries(); err != nil || len(libraries) > 0 {
		t.Errorf("it needs %q, %v", libraries, err)
	}
	for _, p := range f.Progs {
		if p.Type == elf.PT_INTERP {
			t.Error("it needs a loader")
		}
	}
}

// TestUnit holds the unit to what keeps an intruder small.
func TestUnit(t *testing.T) {
	unit, err := os.ReadFile("deploy/firn.service")
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{
		"DynamicUser=yes", "NoNewPrivileges=yes", "CapabilityBoundingSet=", "ProtectSystem=strict", "ProtectHome=yes", "PrivateDevices=yes",
		"MemoryDenyWriteExecute=yes", "SystemCallFilter=@system-service", "StateDirectoryMode=0700", "UMask=0077", "LimitCORE=0",
		"ExecStart=/usr/local/bin/firn serve --config /etc/firn/config.yaml --data /var/lib/firn", "ExecReload=/bin/kill -HUP $MAINPID",
		"Restart=always", "MemoryMax=512M", "Environment=GOMEMLIMIT=460MiB",
	} {
		if !slices.Contains(strings.Split(string(unit), "\n"), line) {
			t.Errorf("the unit has no line %q", line)
		}
	}
	for _, command := range []string{"access", "backup", "restore"} {
		if !regexp.MustCompile(`(?m)^#   firn-as ` + command + ` .*--config /etc/firn/config.yaml --data /var/lib/firn`).Match(unit) {
			t.Errorf("the unit does not say how %s runs as its user", command)
		}
	}
	if strings.Contains(string(unit), "Environment=FIRN_") && !strings.Contains(string(unit), "#   Environment=FIRN_") {
		t.Error("a secret stands in the unit, which everybody may read")
	}
}
