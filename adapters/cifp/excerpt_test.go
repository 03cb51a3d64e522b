package cifp

import (
	"os"
	"testing"
)

// excerpt is the real records of testdata/cifp.
func excerpt(t testing.TB) []byte {
	t.Helper()
	data, err := os.ReadFile("../../testdata/cifp/sample.txt")
	if err != nil {
		t.Fatal(err)
	}
	return data
}
