package strictyaml

import (
	"strings"
)

// The variables that hold secrets (product contract).
const (
	slackAppToken = "FIRN_SLACK_APP_TOKEN"
	slackBotToken = "FIRN_SLACK_BOT_TOKEN"
	discordToken  = "FIRN_DISCORD_TOKEN"
	DatabaseURL   = "FIRN_DATABASE_URL"
)

// secretWords make a key a place for a secret.
var secretWords = []string{"token", "password", "passwd", "secret", "api_key", "apikey", "credential"}

// secretKey says whether a key is meant for a secret, and the variable that
// holds it instead; variable is empty when none is known.
func secretKey(parent, key string) (variable string, secret bool) {
	k := strings.ReplaceAll(strings.ToLower(key), "-", "_")
	for _, w := range secretWords {
		if !strings.Contains(k, w) {
			continue
		}
		switch where := parent + "." + k; {
		case strings.Contains(where, "discord"):
			return discordToken, true
		case strings.Contains(where, "slack") && strings.Contains(k, "app"):
			return slackAppToken, true
		case strings.Contains(where, "slack"):
			return slackBotToken, true
		case strings.Contains(where, "store"), strings.Contains(where, "database"):
			return DatabaseURL, true
		}
		return "", true
	}
	return "", false
}

// secretWord says whether a word has the shape of a chat service's token, and
// which variable it belongs in.
func secretWord(w string) (variable string, secret bool) {
	if i := strings.Index(w, "xapp-"); i >= 0 && len(w) > i+len("xapp-") {
		return slackAppToken, true
	}
	if i := strings.Index(w, "xox"); i >= 0 && len(w) > i+len("xoxb-") && w[i+len("xoxb")] == '-' {
		return slackBotToken, true
	}
	// Three parts in base64: who, when, and the signature.
	if a, rest, ok := strings.Cut(w, "."); ok && len(a) >= 23 && len(a) <= 28 {
		if b, c, ok := strings.Cut(rest, "."); ok && len(b) >= 6 && len(b) <= 7 && len(c) >= 27 {
			return discordToken, true
		}
	}
	return "", false
}

// SecretIn says whether any part of a text may be a secret; an address with a
// user and a password is one.
func SecretIn(text string) bool {
	if _, after, ok := strings.Cut(text, "://"); ok && strings.Contains(after, "@") {
		return true
	}
	for _, w := range strings.FieldsFunc(text, notSecretByte) {
		if _, secret := secretWord(w); secret {
			return true
		}
	}
	return false
}

func notSecretByte(c rune) bool {
	return c >= 0x80 || !secretByte(byte(c))
}

// secretByte says whether tokens are made of such bytes.
func secretByte(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-' || c == '_' || c == '.'
}

// SecretText is the sentence; the value is never part of it.
func SecretText(subject, variable string) string {
	if variable == "" {
		return subject + "; secrets come from the environment, never from this file: remove it here and replace the secret"
	}
	return subject + "; secrets come from the environment, never from this file: remove it here, replace the secret, and set " + variable
}
