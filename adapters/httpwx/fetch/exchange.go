package fetch

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
)

// exchange asks once. life is how long the outcome, good or bad, is to be
// used.
func (c *Client) exchange(ctx context.Context, r Request, e *entry, read func(Answer) (any, error)) (value any, life time.Duration, err error) {
	ctx, cancel := context.WithTimeout(ctx, c.o.Timeout)
	defer cancel()
	u := c.base.JoinPath(r.Path)
	u.RawQuery = r.Query.Encode()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, u.String(), nil)
	if err != nil {
		return nil, afterFailure, errors.New("the URL cannot be asked")
	}
	req.Header.Set("User-Agent", c.o.UserAgent)
	req.Header.Set("Accept", strings.Join(r.Types, ", "))
	if e.good && e.etag != "" {
		req.Header.Set("If-None-Match", e.etag)
	}
	if e.good && e.modified != "" {
		req.Header.Set("If-Modified-Since", e.modified)
	}
	res, err := c.http.Do(req)
	if err != nil {
		return nil, afterFailure, c.bare(ctx, err)
	}
	defer res.Body.Close()
	now := c.o.Now()
	a := Answer{Received: now.UTC()}
	switch code := res.StatusCode; {
	case code == http.StatusNotModified && e.good:
		return e.kept, lifetime(res.Header, now, r.Ceiling), nil
	case code == http.StatusNoContent, code == http.StatusNotFound:
		a.None, a.NotFound = true, code == http.StatusNotFound
	case code == http.StatusTooManyRequests, code == http.StatusServiceUnavailable:
		wait, said := retryAfter(res.Header, now)
		if !said && code == http.StatusTooManyRequests {
			wait, said = unsaidWait, true
		}
		if said {
			c.leaveAlone(now.Add(wait))
		}
		return nil, max(wait, afterFailure), &StatusError{code}
	case code != http.StatusOK:
		return nil, afterFailure, &StatusError{code}
	default:
		if a.Body, err = c.body(res); err != nil {
			return nil, afterFailure, c.bare(ctx, err)
		}
		a.None = len(bytes.TrimSpace(a.Body)) == 0
	}
	if !a.None {
		if a.Type, err = mediaType(res.Header, r.Types); err != nil {
			return nil, afterFailure, err
		}
	}
	value, err = read(a)
	if err != nil {
		if !errors.Is(err, ErrUnreadable) {
			err = fmt.Errorf("%w: %w", ErrUnreadable, err)
		}
		return nil, afterFailure, err
	}
	e.good, e.kept = true, value
	e.etag, e.modified = res.Header.Get("ETag"), res.Header.Get("Last-Modified")
	if a.None {
		e.good = false // an absence has nothing to be conditional about
	}
	return value, lifetime(res.Header, now, r.Ceiling), nil
}

// body reads at most the limit; net/http has decompressed it, so that the
// limit counts what comes out.
func (c *Client) body(res *http.Response) ([]byte, error) {
	if res.ContentLength > c.o.MaxBytes {
		return nil, fmt.Errorf("%w of %d bytes", ErrTooLarge, c.o.MaxBytes)
	}
	data, err := io.ReadAll(io.LimitReader(res.Body, c.o.MaxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("the answer broke off: %w", err)
	}
	if int64(len(data)) > c.o.MaxBytes {
		return nil, fmt.Errorf("%w of %d bytes", ErrTooLarge, c.o.MaxBytes)
	}
	return data, nil
}

func mediaType(h http.Header, want []string) (string, error) {
	text := h.Get("Content-Type")
	if text == "" {
		return "", nil
	}
	got, _, err := mime.ParseMediaType(text)
	if err != nil || !slices.Contains(want, got) {
		return "", fmt.Errorf("%w: its content type is not %s", ErrUnreadable, strings.Join(want, " or "))
	}
	return got, nil
}

// bare takes the URL out of an error of net/http: it may hold credentials.
func (c *Client) bare(ctx context.Context, err error) error {
	if e, ok := errors.AsType[*url.Error](err); ok {
		err = e.Err
	}
	if errors.Is(ctx.Err(), context.DeadlineExceeded) {
		return fmt.Errorf("no whole answer within %v: %w", c.o.Timeout, context.DeadlineExceeded)
	}
	return err
}
