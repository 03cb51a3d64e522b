package request_test

import (
	"bytes"
	"context"
	"log/slog"
	"strings"
	"testing"

	"firn/bot/request"
)

func TestHandler(t *testing.T) {
	var out bytes.Buffer
	log := slog.New(request.Handler(slog.NewTextHandler(&out, nil)))
	said := func(do func()) string {
		out.Reset()
		do()
		return strings.TrimSpace(out.String()[strings.Index(out.String(), "msg="):])
	}
	ctx := request.With(context.Background(), "slack", "Ev1 \n")
	for _, c := range []struct {
		name string
		do   func()
		want string
	}{
		{"of a request", func() { log.InfoContext(ctx, "x", "a", 1) }, `msg=x a=1 request="slack:Ev1 \n"`},
		{"of none", func() { log.InfoContext(context.Background(), "x") }, `msg=x`},
		{"without a context", func() { log.Info("x") }, `msg=x`},
		{"of an event without a name", func() { log.InfoContext(request.With(context.Background(), "slack", ""), "x") }, `msg=x`},
		{"of a context below", func() {
			below, cancel := context.WithCancel(ctx)
			cancel()
			log.With("b", 2).InfoContext(below, "x")
		}, `msg=x b=2 request="slack:Ev1 \n"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := said(c.do); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}
