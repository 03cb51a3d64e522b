package slack

import (
	"bytes"
	"encoding/json"
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
// methods, into the header, where Slack asks for it, and keeps of the answer
// to a post only what is read: Slack repeats the whole message, which the
// library would decode block by block.
type doer struct {
	client *http.Client
	api    string
}

func (d doer) Do(req *http.Request) (*http.Response, error) {
	form := req.Header.Get("Content-Type") == "application/x-www-form-urlencoded"
	if !form || req.Body == nil || !strings.HasPrefix(req.URL.String(), d.api) {
		return d.client.Do(req)
	}
	var raw bytes.Buffer
	raw.Grow(int(max(req.ContentLength, 0)) + bytes.MinRead)
	if _, err := raw.ReadFrom(req.Body); err != nil {
		return nil, err
	}
	body, token := cutToken(raw.Bytes())
	req.Body = io.NopCloser(bytes.NewReader(body))
	req.GetBody = func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(body)), nil }
	req.ContentLength = int64(len(body))
	if token != "" && req.Header.Get("Authorization") == "" {
		req.Header.Set("Authorization", "Bearer "+token)
	}
	res, err := d.client.Do(req)
	if err == nil && res.StatusCode == http.StatusOK && strings.HasSuffix(req.URL.Path, "/chat.postMessage") {
		err = trim(res)
	}
	if err != nil {
		return nil, err
	}
	return res, nil
}

// posted is what is read of the answer to a post.
type posted struct {
	OK               bool            `json:"ok"`
	Error            string          `json:"error,omitempty"`
	Errors           json.RawMessage `json:"errors,omitempty"`
	Needed           string          `json:"needed,omitempty"`
	Provided         string          `json:"provided,omitempty"`
	Channel          string          `json:"channel,omitempty"`
	TS               string          `json:"ts,omitempty"`
	ResponseMetadata json.RawMessage `json:"response_metadata,omitempty"`
}

// trim leaves an answer that cannot be read as it is: the library says why.
func trim(res *http.Response) error {
	full, err := io.ReadAll(res.Body)
	res.Body.Close()
	if err != nil {
		return err
	}
	var p posted
	if err := json.Unmarshal(full, &p); err == nil {
		if short, err := json.Marshal(p); err == nil {
			full = short
		}
	}
	res.Body = io.NopCloser(bytes.NewReader(full))
	res.ContentLength = int64(len(full))
	return nil
}

// cutToken takes the token out of an encoded form, in its place. Tokens need
// no escapes.
func cutToken(body []byte) (rest []byte, token string) {
	const name = "token="
	at := 0
	if !bytes.HasPrefix(body, []byte(name)) {
		if at = bytes.Index(body, []byte("&"+name)); at < 0 {
			return body, ""
		}
	}
	from := at + len(name)
	if at > 0 {
		from++
	}
	end := bytes.IndexByte(body[from:], '&')
	if end < 0 {
		return body[:at], string(body[from:])
	}
	token = string(body[from : from+end])
	after := from + end
	if at == 0 {
		after++ // the separator behind the first field
	}
	return append(body[:at], body[after:]...), token
}
