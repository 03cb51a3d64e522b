// Package machine is this machine as firn needs it: secrets from its files, room
// on its disk, and what to do about the errors that it gives.
package machine

import (
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
)

// Secret is what a FIRN_* variable holds that nobody may read. Printed, logged
// or encoded in any way it is hidden; only Reveal gives it. The text lies
// behind a pointer, for fmt asks no method of what stands in an unexported
// field.
type Secret struct{ text *string }

const hidden = "[secret]"

func newSecret(text string) Secret {
	if text == "" {
		return Secret{}
	}
	return Secret{&text}
}

// Set says whether there is one.
func (s Secret) Set() bool { return s.text != nil }

// Reveal is the secret itself, for the library that needs it.
func (s Secret) Reveal() string {
	if s.text == nil {
		return ""
	}
	return *s.text
}

// String hides it; that there is none is no secret.
func (s Secret) String() string {
	if !s.Set() {
		return ""
	}
	return hidden
}

// Format hides it from fmt, whatever the verb.
func (s Secret) Format(f fmt.State, _ rune) { fmt.Fprint(f, s.String()) }

// LogValue hides it from slog.
func (s Secret) LogValue() slog.Value { return slog.StringValue(s.String()) }

// MarshalText hides it from JSON, YAML and XML, also as a key.
func (s Secret) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// fileSuffix stands behind a secret's name: the file that holds it.
const fileSuffix = "_FILE"

// Env is the environment: os.Getenv is one.
type Env func(name string) string

// credentials is the folder in which systemd hands over what the unit's
// LoadCredential names (systemd.exec(5)).
const credentials = "CREDENTIALS_DIRECTORY"

// Handed says of a path that begins with $CREDENTIALS_DIRECTORY where it lies: as it
// is written where nothing is handed over, so that the error says which is missing.
// Any other is not handed over.
func (env Env) Handed(path string) (file string, is bool) {
	name, is := strings.CutPrefix(path, "$"+credentials+"/")
	if !is {
		return path, false
	}
	if folder := env(credentials); folder != "" {
		return filepath.Join(folder, name), true
	}
	return path, true
}

// Secret reads one from the environment, or from the file that NAME_FILE names. A file
// that is empty is an error: whoever names one does not mean to go without, and without
// the database's address another store would be used.
func (env Env) Secret(name string) (Secret, error) {
	if v := env(name); v != "" {
		return newSecret(v), nil
	}
	path, handed := env.Handed(env(name + fileSuffix))
	if path == "" {
		return Secret{}, nil
	}
	data, err := os.ReadFile(path)
	switch {
	case err != nil && handed:
		return Secret{}, fmt.Errorf("%s: %w: nothing of that name is handed over to this process; give it the LoadCredential that the unit of serve has", name+fileSuffix, err)
	case err != nil:
		return Secret{}, fmt.Errorf("%s: %w", name+fileSuffix, err)
	}
	text := strings.TrimSpace(string(data))
	if text == "" {
		return Secret{}, fmt.Errorf("%s: %s is empty: write the secret into it, or leave the variable out", name+fileSuffix, path)
	}
	return newSecret(text), nil
}

// Files looks at the files of secrets: told gets what is to be minded, bad what
// is wrong. What cannot be read is said by Secret.
func (env Env) Files(names []string, told, bad func(text string)) {
	for _, name := range names {
		path, _ := env.Handed(env(name + fileSuffix))
		if path == "" {
			continue
		}
		if env(name) != "" {
			told(fmt.Sprintf("%s is set, so that %s is not looked at", name, name+fileSuffix))
		}
		if info, err := os.Stat(path); err == nil && info.Mode().Perm()&0o007 != 0 {
			bad(fmt.Sprintf("everybody on this machine may reach the file of %s: chmod 600 %s", name+fileSuffix, path))
		}
	}
}
