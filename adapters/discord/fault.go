package discord

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"
	"unicode"

	"github.com/bwmarrin/discordgo"

	"firn/bot/outbox"
)

// fault is a request that failed, told without its address, its body and its
// headers: those hold tokens.
type fault struct {
	what   string
	status int    // 0: no answer
	code   int    // Discord's own
	text   string // Discord's own words
	wait   time.Duration
	err    error // where no answer came
}

// Error says what failed and why.
func (f *fault) Error() string {
	switch {
	case f.wait > 0:
		return fmt.Sprintf("discord: %s: too many requests, again in %s", f.what, f.wait)
	case f.status == http.StatusUnauthorized:
		return fmt.Sprintf("discord: %s: %v", f.what, errRefused)
	case f.status != 0 && f.code != 0:
		return fmt.Sprintf("discord: %s: %d, %s (%d)", f.what, f.status, f.text, f.code)
	case f.status != 0:
		return fmt.Sprintf("discord: %s: %d %s", f.what, f.status, http.StatusText(f.status))
	case f.text != "":
		return fmt.Sprintf("discord: %s: %s: %v", f.what, f.text, f.err)
	}
	return fmt.Sprintf("discord: %s: no answer: %v", f.what, f.err)
}

func (f *fault) Unwrap() error { return f.err }

// unclear says that Discord may have done what was asked all the same.
func (f *fault) unclear() bool { return f.status == 0 || f.status >= 500 }

// faultOf reads an error of discordgo.
func faultOf(what string, err error) *fault {
	f := &fault{what: what, err: err}
	var rest *discordgo.RESTError
	var transport *url.Error
	switch {
	case errors.As(err, &rest):
		f.err = nil
		if rest.Response != nil {
			f.status = rest.Response.StatusCode
		}
		if rest.Message != nil {
			f.code, f.text = rest.Message.Code, plainly(rest.Message.Message)
		}
		if f.code == codeInvalidForm {
			f.text += formErrors(rest.ResponseBody)
		}
	case errors.As(err, &transport):
		f.err = transport.Err // without the address
	case strings.HasPrefix(err.Error(), "Exceeded Max retries HTTP 502"):
		f.status, f.err = http.StatusBadGateway, nil
	}
	return f
}

// plainly is foreign text for a log: short and on one line.
func plainly(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	if r := []rune(s); len(r) > 160 {
		s = string(r[:160]) + "…"
	}
	return s
}

// formErrors names the fields that Discord refuses; what stands in them is
// not told.
func formErrors(body []byte) string {
	var form struct {
		Errors map[string]any `json:"errors"`
	}
	if json.Unmarshal(body, &form) != nil || len(form.Errors) == 0 {
		return ""
	}
	var names []string
	var walk func(at string, v any)
	walk = func(at string, v any) {
		m, ok := v.(map[string]any)
		if !ok || len(names) > 5 {
			return
		}
		if _, leaf := m["_errors"]; leaf {
			names = append(names, at)
			return
		}
		for k, inner := range m {
			walk(strings.TrimPrefix(at+"."+k, "."), inner)
		}
	}
	walk("", any(form.Errors))
	return ": " + plainly(strings.Join(names, ", "))
}

// Codes that Discord gives (its reference, "JSON Error Codes").
const (
	codeUnknownChannel     = 10003
	codeUnknownMember      = 10007
	codeUnknownMessage     = 10008
	codeUnknownWebhook     = 10015
	codeUnknownInteraction = 10062
	codeAnswered           = 40060
	codeInvalidForm        = 50035
	codeInvalidWebhook     = 50027
	codeHasThread          = 160004
)

// codeOf is Discord's code of an error, or 0.
func codeOf(err error) int {
	var f *fault
	if errors.As(err, &f) {
		return f.code
	}
	return 0
}

// unclear says that what was asked may have been done although it failed.
func unclear(err error) bool {
	var f *fault
	return err != nil && (!errors.As(err, &f) || f.unclear())
}

// settled marks as permanent what another attempt cannot cure: an answer of
// Discord itself (not of something before it) that says no. A refused token
// is not: it is replaced.
func settled(err error) error {
	var f *fault
	if errors.As(err, &f) && f.code != 0 &&
		(f.status == http.StatusBadRequest || f.status == http.StatusForbidden || f.status == http.StatusNotFound || f.status == http.StatusRequestEntityTooLarge) {
		return outbox.Permanent(err)
	}
	return err
}
