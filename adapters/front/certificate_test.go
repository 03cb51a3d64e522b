package front

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"log/slog"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestCertificateMended: a pair that was not taken is tried again although its
// files' times and sizes stay, as they do when a key is given to the user that is
// to read it; what is wrong is said once.
func TestCertificateMended(t *testing.T) {
	dir := t.TempDir()
	cert, key := filepath.Join(dir, "page.crt"), filepath.Join(dir, "page.key")
	write := func(name string, data []byte, at time.Time) {
		t.Helper()
		if err := os.WriteFile(name, data, 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(name, at, at); err != nil {
			t.Fatal(err)
		}
	}
	made := time.Now().Add(-time.Hour).Truncate(time.Second)
	c1, k1 := pair(t, 0)
	write(cert, c1, made)
	write(key, k1, made)
	var said bytes.Buffer
	c, err := openCertificate(slog.New(slog.NewTextHandler(&said, nil)), cert, key)
	if err != nil {
		t.Fatal(err)
	}
	get := func() []byte {
		t.Helper()
		c.looked = time.Time{}
		p, err := c.get(nil)
		if err != nil {
			t.Fatal(err)
		}
		return p.Certificate[0]
	}
	first := get()
	c2, k2 := pair(t, 0)
	renewed := made.Add(time.Minute)
	write(cert, c2, renewed)
	write(key, bytes.Repeat([]byte{'x'}, len(k2)), renewed)
	for range 3 {
		if !bytes.Equal(get(), first) {
			t.Error("a pair that cannot be read is served")
		}
	}
	if n := strings.Count(said.String(), "not taken"); n != 1 {
		t.Errorf("said %d times:\n%s", n, &said)
	}
	for _, bad := range []struct {
		name   string
		starts time.Duration // from now
		want   string
	}{
		{"one that has ended", -2 * time.Hour, "and the one before holds now"},
		{"one that begins tomorrow", 24 * time.Hour, "and the one before holds now"},
		{"none", 0, "no such file"},
	} {
		said.Reset()
		renewed = renewed.Add(time.Second)
		c3, k3 := pair(t, bad.starts)
		write(cert, c3, renewed)
		write(key, k3, renewed)
		if bad.name == "none" {
			if err := os.Remove(key); err != nil {
				t.Fatal(err)
			}
		}
		for range 2 {
			if !bytes.Equal(get(), first) {
				t.Errorf("%s is served", bad.name)
			}
		}
		was := &Front{o: Options{Listen: "127.0.0.1:0"}, pair: c}
		if _, err := Open(c.log, Options{Listen: "127.0.0.1:0", Cert: cert, Key: key}, was); err == nil || !strings.Contains(err.Error(), bad.want) {
			t.Errorf("%s is taken by a reload: %v", bad.name, err)
		}
		if n := strings.Count(said.String(), "not taken; the one before stays"); n != 1 || !strings.Contains(said.String(), bad.want) {
			t.Errorf("%s: said %d times, want once and %q:\n%s", bad.name, n, bad.want, &said)
		}
	}
	write(cert, c2, renewed)
	write(key, k2, renewed)
	if bytes.Equal(get(), first) || !strings.Contains(said.String(), "read again") {
		t.Errorf("the mended pair is not served:\n%s", &said)
	}
}

// pair makes a certificate and its key, of the same lengths each time but for the
// signature, for an hour that starts so long from now.
func pair(t *testing.T, starts time.Duration) (cert, key []byte) {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	c := &x509.Certificate{SerialNumber: big.NewInt(now.UnixNano()), NotBefore: now.Add(starts), NotAfter: now.Add(starts + time.Hour)}
	der, err := x509.CreateCertificate(rand.Reader, c, c, k.Public(), k)
	if err != nil {
		t.Fatal(err)
	}
	pkcs, err := x509.MarshalPKCS8PrivateKey(k)
	if err != nil {
		t.Fatal(err)
	}
	block := func(kind string, b []byte) []byte { return pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: b}) }
	return block("CERTIFICATE", der), block("PRIVATE KEY", pkcs)
}
