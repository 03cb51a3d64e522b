package approach

import (
	"context"
	"errors"
	"strings"
	"testing"
)

type source []Approach

func (s source) Procedures(_ context.Context, ident string) (all []Approach, err error) {
	if ident == "XERR" {
		return nil, errors.New("down")
	}
	for _, a := range s {
		if a.Ident == ident {
			all = append(all, a)
		}
	}
	return all, nil
}

func TestCatalog(t *testing.T) {
	typed := []Approach{{Ident: "XKLD", Name: "rnp 31", Source: "typed"}, {Ident: "XRUN", Name: "ils 12", Source: "typed"}}
	coded := source{{Ident: "XKLD", Name: "RNP 31", Source: "coded"}, {Ident: "XKLD", Name: "vor a", Source: "coded"}, {Ident: "XSLT", Name: "vor a", Source: "coded"}}
	for _, c := range []struct {
		name, ident, want string
		imported          Source
	}{
		{"typed takes the place of coded", "xkld", "rnp 31/typed vor a/coded", coded},
		{"typed alone", "XRUN", "ils 12/typed", coded},
		{"coded alone", "XSLT", "vor a/coded", coded},
		{"nothing imported", "XKLD", "rnp 31/typed", nil},
		{"none", "XPBR", "", coded},
	} {
		t.Run(c.name, func(t *testing.T) {
			all, err := NewCatalog(typed, c.imported).Procedures(t.Context(), c.ident)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, a := range all {
				got = append(got, a.Name+"/"+a.Source)
			}
			if strings.Join(got, " ") != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
	if _, err := NewCatalog(typed, coded).Procedures(t.Context(), "XERR"); err == nil {
		t.Error("an error of the store is lost")
	}
}
