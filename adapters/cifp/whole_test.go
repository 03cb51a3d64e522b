package cifp

import (
	"fmt"
	"strings"
	"testing"
)

// counting is the header with another count of records (columns 29-35).
func counting(n int) string { return header[:28] + fmt.Sprintf("%07d", n) + header[35:] }

// What shows that a file was cut off: its last line, or the header's count.
func TestCutOff(t *testing.T) {
	for _, tt := range []struct {
		name, file string
		want       string // in the error; empty: whole
	}{
		{"as many as the header says, itself among them", counting(2) + "\n" + record + "\n", ""},
		{"as many as the header says, itself not among them", counting(1) + "\n" + record + "\n", ""},
		{"no line feed at the end", counting(2) + "\n" + record, ""},
		{"one fewer", counting(3) + "\n" + record + "\n", "the header says 3 records, and there are 2"},
		{"the last line broken off", counting(3) + "\n" + record + "\n" + record[:60], "the last line, 3, is cut off"},
		{"broken off within the line feeds", counting(2) + "\r\n" + record + "\r", ""},
		{"a short line amid others", counting(3) + "\n" + record[:60] + "\n" + record + "\n", ""},
		{"a header without a count", header[:28] + "       " + header[35:] + "\n" + record + "\n", ""},
		{"no header", record + "\n" + record[:100] + "\n", "the last line, 2, is cut off"},
	} {
		s, err := Read(strings.NewReader(tt.file), Handler{})
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		switch err := s.Whole(); {
		case err == nil && tt.want != "":
			t.Errorf("%s: got a whole file, want %q", tt.name, tt.want)
		case err != nil && err.Error() != tt.want:
			t.Errorf("%s: got %q, want %q", tt.name, err, tt.want)
		}
	}
}
