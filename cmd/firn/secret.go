package main

import (
	"fmt"
	"log/slog"
	"os"
	"strings"
)

// secret is what a FIRN_* variable holds that nobody may read. Printed, logged
// or encoded in any way it is hidden; only reveal gives it. The text lies
// behind a pointer, for fmt asks no method of what stands in an unexported
// field.
type secret struct{ text *string }

const hidden = "[secret]"

func newSecret(text string) secret {
	if text == "" {
		return secret{}
	}
	return secret{&text}
}

// set says whether there is one.
func (s secret) set() bool { return s.text != nil }

// reveal is the secret itself, for the library that needs it.
func (s secret) reveal() string {
	if s.text == nil {
		return ""
	}
	return *s.text
}

// String hides it; that there is none is no secret.
func (s secret) String() string {
	if !s.set() {
		return ""
	}
	return hidden
}

// Format hides it from fmt, whatever the verb.
func (s secret) Format(f fmt.State, _ rune) { fmt.Fprint(f, s.String()) }

// LogValue hides it from slog.
func (s secret) LogValue() slog.Value { return slog.StringValue(s.String()) }

// MarshalText hides it from JSON, YAML and XML, also as a key.
func (s secret) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// secretOf reads a secret from the environment, or from the file that
// NAME_FILE names.
func secretOf(h host, name string) (secret, error) {
	if v := h.getenv(name); v != "" {
		return newSecret(v), nil
	}
	path := h.getenv(name + envFile)
	if path == "" {
		return secret{}, nil
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return secret{}, fmt.Errorf("%s: %w", name+envFile, err)
	}
	return newSecret(strings.TrimSpace(string(data))), nil
}
