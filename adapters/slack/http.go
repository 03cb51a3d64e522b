package slack

import (
	"io"
	"net/http"
	"strings"
)

// transport keeps as many idle connections as a busy channel needs: Go keeps
// two a host, so a burst of answers would open a connection each.
func transport() *http.Transport {
	t := http.DefaultTransport.(*http.Transport).Clone()
	t.MaxIdleConns, t.MaxIdleConnsPerHost = 256, 256
	return t
}

// doer moves the token from the form, where the library puts it for most
// methods, into the header, where Slack asks for it.
type doer struct {
	client *http.Client
	api    string
}

func (d doer) Do(req *http.Request) (*http.Response, error) {
	form := req.Header.Get("Content-Type") == "application/x-www-form-urlencoded"
	if !form || req.Body == nil || !strings.HasPrefix(req.URL.String(), d.api) {
		return d.client.Do(req)
	}
	raw, err := io.ReadAll(req.Body)
	if err != nil {
		return nil, err
	}
	body, token := cutToken(string(raw))
	req.Body = io.NopCloser(strings.NewReader(body))
	req.GetBody = func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(body)), nil }
	req.ContentLength = int64(len(body))
	if token != "" && req.Header.Get("Authorization") == "" {
		req.Header.Set("Authorization", "Bearer "+token)
	}
	return d.client.Do(req)
}

// cutToken takes the token out of an encoded form. Tokens need no escapes.
func cutToken(body string) (rest, token string) {
	const name = "token="
	at := strings.Index("&"+body, "&"+name)
	if at < 0 {
		return body, ""
	}
	token, after, more := strings.Cut(body[at+len(name):], "&")
	before := strings.TrimSuffix(body[:at], "&")
	switch {
	case more && before != "":
		return before + "&" + after, token
	case more:
		return after, token
	}
	return before, token
}
