package machine

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
)

// TestSecretIsHidden prints a secret in every way that a program may print
// one by accident.
func TestSecretIsHidden(t *testing.T) {
	const text = "hunter2correct"
	s := newSecret(text)
	type holder struct {
		Open   Secret
		closed Secret
	}
	h := holder{s, s}
	shown := map[string]string{}
	for _, verb := range []string{"%v", "%+v", "%#v", "%s", "%q", "%x", "%X", "%d", "%t", "%p", "%T", "%08.3f", "%U", "%c", "%b"} {
		for name, v := range map[string]any{"it": s, "pointer": &s, "struct": h, "pointer to struct": &h, "slice": []Secret{s}, "map": map[string]Secret{"a": s}, "key": map[Secret]int{s: 1}, "any": []any{s, h}} {
			shown[verb+" "+name] = fmt.Sprintf(verb, v)
		}
	}
	for name, v := range map[string]any{"it": s, "struct": h, "key": map[Secret]int{s: 1}} {
		var out bytes.Buffer
		for _, handler := range []slog.Handler{slog.NewTextHandler(&out, nil), slog.NewJSONHandler(&out, nil)} {
			slog.New(handler).Info("started", "secret", v, "list", []any{v})
		}
		shown["slog "+name] = out.String()
		b, err := json.Marshal(v)
		shown["json "+name] = fmt.Sprint(string(b), err)
		b, err = yaml.Marshal(v)
		shown["yaml "+name] = fmt.Sprint(string(b), err)
	}
	b, err := xml.Marshal(h)
	shown["xml"] = fmt.Sprint(string(b), err)
	shown["error"] = fmt.Errorf("open %v: %w", s, os.ErrNotExist).Error()
	for how, got := range shown {
		if strings.Contains(got, text) || strings.Contains(got, "68756e746572") || strings.Contains(strings.ToLower(got), "hunter") {
			t.Errorf("%s shows it: %s", how, got)
		}
	}
	if s.Reveal() != text || !s.Set() || newSecret("").Set() || newSecret("").Reveal() != "" || (Secret{}).String() != "" {
		t.Error("it is not kept")
	}
}

func TestSecret(t *testing.T) {
	const name = "FIRN_DISCORD_TOKEN"
	file := filepath.Join(t.TempDir(), "token")
	if err := os.WriteFile(file, []byte(" from-a-file\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		env  map[string]string
		want string
	}{
		{"unset", nil, ""},
		{"set", map[string]string{name: "set"}, "set"},
		{"a file", map[string]string{name + fileSuffix: file}, "from-a-file"},
		{"a file that systemd hands over", map[string]string{name + fileSuffix: "$CREDENTIALS_DIRECTORY/token", credentials: filepath.Dir(file)}, "from-a-file"},
		{"both", map[string]string{name: "set", name + fileSuffix: file}, "set"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := Env(func(n string) string { return c.env[n] }).Secret(name)
			if err != nil || s.Reveal() != c.want {
				t.Errorf("got %q, %v, want %q", s.Reveal(), err, c.want)
			}
		})
	}
	if _, err := Env(func(n string) string { return map[string]string{name + fileSuffix: file + "x"}[n] }).Secret(name); err == nil || !strings.Contains(err.Error(), name+fileSuffix) {
		t.Errorf("a file that is not there: %v", err)
	}
	for _, nothing := range []string{"", " \n"} {
		empty := filepath.Join(t.TempDir(), "empty")
		if err := os.WriteFile(empty, []byte(nothing), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Env(func(n string) string { return map[string]string{name + fileSuffix: empty}[n] }).Secret(name); err == nil || !strings.Contains(err.Error(), name+fileSuffix+": "+empty+" is empty") {
			t.Errorf("a file that holds %q: %v", nothing, err)
		}
	}
	for _, folder := range []string{"", t.TempDir()} {
		env := map[string]string{name + fileSuffix: "$CREDENTIALS_DIRECTORY/token", credentials: folder}
		if _, err := Env(func(n string) string { return env[n] }).Secret(name); err == nil || !strings.Contains(err.Error(), "nothing of that name is handed over to this process") {
			t.Errorf("what is not handed over, in the folder %q: %v", folder, err)
		}
	}
}
