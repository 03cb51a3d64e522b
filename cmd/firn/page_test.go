package main

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
)

// certificate makes one for this machine, and the pool that trusts it.
func certificate(t *testing.T, dir string) *x509.CertPool {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	tmpl := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "firn test"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	private, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	for name, block := range map[string]*pem.Block{"page.crt": {Type: "CERTIFICATE", Bytes: der}, "page.key": {Type: "PRIVATE KEY", Bytes: private}} {
		text := pem.EncodeToMemory(block)
		pool.AppendCertsFromPEM(text) // the key is none, and is passed over
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return pool
}

// heard is a log that may be read while it is written.
type heard struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (h *heard) Write(p []byte) (int, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.b.Write(p)
}

func (h *heard) text() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.b.String()
}

var readyPage = regexp.MustCompile(`msg=ready page=(https?)://[^ ]*:([0-9]+)/`)

// TestPageBeyondThisMachine is serve with a listener that others reach, with
// TLS from files: nobody reads without a link, a link is moved into a cookie,
// and what was asked is in the record under its name.
func TestPageBeyondThisMachine(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	pool := certificate(t, dir)
	cfg := filepath.Join(dir, "config.yaml")
	text := "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\nduty: [\"file:duty\"]\nstore: {path: firn.db}\npage: {listen: \"0.0.0.0:0\", tls_cert: page.crt, tls_key: page.key}\n"
	if err := os.WriteFile(cfg, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	log := &heard{}
	h := host{stdin: strings.NewReader(""), stdout: io.Discard, stderr: log, getenv: func(string) string { return "" }, now: time.Now}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan int, 1)
	go func() { ended <- run(ctx, []string{"serve", "--config", cfg}, h) }()
	var base string
	for end := time.Now().Add(20 * time.Second); base == ""; time.Sleep(5 * time.Millisecond) {
		if m := readyPage.FindStringSubmatch(log.text()); m != nil {
			base = m[1] + "://127.0.0.1:" + m[2]
		}
		if time.Now().After(end) {
			t.Fatalf("it is not ready:\n%s", log.text())
		}
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	client := &http.Client{Jar: jar, Timeout: time.Minute, Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}, ForceAttemptHTTP2: true}}
	get := func(path string) (*http.Response, string) {
		t.Helper()
		res, err := client.Get(base + path)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		body, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return res, string(body)
	}
	for path, want := range map[string]int{"/": 401, "/board": 401, "/log": 401, "/healthz": 200} {
		if res, _ := get(path); res.StatusCode != want {
			t.Errorf("%s without a link = %d, want %d", path, res.StatusCode, want)
		}
	}
	var out bytes.Buffer
	add := host{stdout: &out, stderr: log, getenv: h.getenv, now: time.Now}
	if code := run(ctx, []string{"access", "add", "anna", "--config", cfg, "--url", base}, add); code != exitAnswered {
		t.Fatalf("access add = %d:\n%s", code, log.text())
	}
	secret, isLink := strings.CutPrefix(strings.TrimSpace(out.String()), base+"/enter#")
	if !isLink {
		t.Fatalf("the link is %s", out.String())
	}
	res, page := get("/enter")
	if res.StatusCode != 200 || len(res.Cookies()) != 0 || !strings.Contains(page, "Come in") {
		t.Errorf("a link that is looked at = %d", res.StatusCode)
	}
	if res, err = client.PostForm(base+"/enter", url.Values{"link": {"wrong"}}); err != nil || res.StatusCode != 403 {
		t.Errorf("a wrong link: %v, %v", res, err)
	}
	res.Body.Close()
	if _, page = get("/metrics"); !strings.Contains(page, `firn_sign_ins_refused_total{why="link"} 1`) {
		t.Error("the figures lack the link that was refused")
	}
	if res, err = client.PostForm(base+"/enter", url.Values{"link": {secret}}); err != nil {
		t.Fatal(err)
	}
	came, _ := io.ReadAll(res.Body)
	res.Body.Close()
	page = string(came)
	if res.StatusCode != 200 || res.Request.URL.Path != "/" || res.Proto != "HTTP/2.0" || res.Header.Get("Strict-Transport-Security") == "" {
		t.Fatalf("the link = %d at %s by %s", res.StatusCode, res.Request.URL.Path, res.Proto)
	}
	u, _ := url.Parse(base)
	if c := jar.Cookies(u); len(c) != 1 || c[0].Name != "__Host-firn" || strings.Contains(secret, c[0].Value) {
		t.Errorf("%d cookies", len(c))
	}
	mark := regexp.MustCompile(`name="csrf" value="([^"]+)"`).FindStringSubmatch(page)
	if mark == nil {
		t.Fatalf("the page has no form:\n%s", page)
	}
	q, err := http.NewRequest("POST", base+"/ask", strings.NewReader(url.Values{"csrf": {mark[1]}, "deed": {"1"}, "text": {"XKLD -38 FAF 8200"}}.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	q.Header.Set("Origin", base)
	res, err = client.Do(q)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if _, page = get("/log"); !strings.Contains(page, "FAF 8200 → 9000") || !strings.Contains(page, "by anna") {
		t.Errorf("the log lacks what was asked:\n%s", page)
	}
	// What is allowed by the scope and not by the duty list is refused.
	q, _ = http.NewRequest("POST", base+"/ask", strings.NewReader(url.Values{"csrf": {mark[1]}, "deed": {"2"}, "text": {"ack XKLD"}}.Encode()))
	q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	q.Header.Set("Origin", base)
	if res, err = client.Do(q); err != nil {
		t.Fatal(err)
	}
	body, _ := io.ReadAll(res.Body)
	res.Body.Close()
	if !strings.Contains(string(body), "Only a duty officer may do that: whoever has a link with the scope duty") {
		t.Errorf("a deed without the right reads:\n%s", body)
	}
	// An open page holds nobody up at the end.
	stream, err := client.Get(base + "/live?on=%2Fboard")
	if err != nil || stream.StatusCode != 200 {
		t.Fatal(err)
	}
	defer stream.Body.Close()
	const stopTime = 10 * time.Second // requests under way have it at the end
	began := time.Now()
	cancel()
	select {
	case code := <-ended:
		if code != exitAnswered {
			t.Errorf("serve = %d:\n%s", code, log.text())
		}
	case <-time.After(stopTime + 10*time.Second):
		t.Fatal("serve does not end")
	}
	if took := time.Since(began); took >= stopTime {
		t.Errorf("serve ended after %v", took)
	}
	if strings.Contains(log.text(), secret) || strings.Contains(log.text(), "8200") {
		t.Error("the log holds a secret, or what was asked")
	}
}
