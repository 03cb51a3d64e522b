package present_test

import (
	"strings"
	"testing"

	"firn/bot/present"
	"firn/bot/reply"
)

// TestControls: Check comes first and is what to do next; a card that is
// replaced or out of date offers only what can be done with it.
func TestControls(t *testing.T) {
	actions := []reply.Action{
		{ID: "why", Label: "Show the working", Message: "why", Whole: "why XKLD -38 8200"},
		{ID: "picture", Label: "Picture", Message: "picture", Whole: "picture XKLD -38 8200"},
		{ID: reply.ActionCard, Label: "Card", Message: "card", Whole: "card KALOMI-RUTA"},
		{ID: reply.ActionPost, Label: "Post to the team", Message: "post", Whole: "post KALOMI-RUTA"},
	}
	check := reply.Action{ID: "check", Label: "Check", Message: "check", Whole: "check KALOMI-RUTA"}
	again := reply.Action{ID: "recompute", Label: "Recompute", Message: "recompute KALOMI-RUTA"}
	for _, c := range []struct {
		state   string
		actions []reply.Action
		want    string
	}{
		{"unchecked", append(actions[:4:4], check), "*Check* Post | Radio calls, Cautions, Record, Working, Picture, Print"},
		{"unchecked", append(actions[:4:4], check, again), "*Check* Post | Radio calls, Cautions, Record, Working, Picture, Print, Again at the latest temperature"},
		{"checked", append(actions[:4:4], again), "Post | Radio calls, Cautions, Working, Picture, Print, Again at the latest temperature"},
		{"recompute", append(actions[:4:4], again), "*Again at the latest temperature* | Cautions, Working"},
		{"expired", append(actions[:4:4], again), "*Again at the latest temperature* | Cautions, Working"},
		{"replaced", actions, "| Cautions, Working"},
	} {
		r := reply.Reply{
			Kind: reply.KindCorrection, Headline: "XKLD, −38 °C: correct", Actions: c.actions,
			Cautions: []reply.Caution{{Code: "x", Text: "Mind it."}}, Call: &reply.Call{Way: "vectors", Text: "Request."},
			Record: &reply.RecordStatus{ID: "KALOMI-RUTA", State: c.state, Lines: []string{"Computed by Anna."}},
		}
		k := present.ControlsOf(r, present.Of(r))
		var got []string
		for i, b := range k.Buttons {
			if i == 0 && k.Primary {
				b.Label = "*" + b.Label + "*"
			}
			got = append(got, b.Label)
		}
		var more []string
		for _, e := range k.More {
			more = append(more, e.Title)
		}
		if text := strings.Join(append(got, "|", strings.Join(more, ", ")), " "); text != c.want {
			t.Errorf("%s: %s\nwant %s", c.state, text, c.want)
		}
		if k.Line != "why XKLD -38 8200" {
			t.Errorf("%s: asked for again by %q", c.state, k.Line)
		}
	}
}

// TestControlsLine: what asks for a reply again that no record keeps.
func TestControlsLine(t *testing.T) {
	for want, r := range map[string]reply.Reply{
		"watch":       {Kind: reply.KindWatch},
		"XKLD -38.5":  {Kind: reply.KindStatus, Station: reply.Station{Ident: "XKLD", Known: true}, TemperatureC: reply.Some(-38.5)},
		"":            {Kind: reply.KindNotice, Facts: []string{"Done."}},
		"why XKLD -1": {Kind: reply.KindAlert, Actions: []reply.Action{{ID: "ack", Message: "ack XKLD"}, {ID: "why", Message: "why XKLD -1"}}},
	} {
		if got := present.ControlsOf(r, present.Of(r)).Line; got != want {
			t.Errorf("%s: %q, want %q", r.Kind, got, want)
		}
	}
}

// TestGrouped: a short menu keeps every entry.
func TestGrouped(t *testing.T) {
	e := func(id, asks string, open bool) present.Entry {
		return present.Entry{ID: id, Title: strings.ToUpper(id[:1]) + id[1:], Asks: asks, Open: open}
	}
	all := []present.Entry{e("calls", "", false), e("cautions", "", false), e("details", "", false), e("record", "", false),
		e("working", "why", false), e("picture", "picture", false), e("print", "card", false), e("again", "recompute", true)}
	for most, want := range map[int]string{
		8: "Calls|Cautions|Details|Record|Working|Picture|Print|Again",
		6: "Calls|Cautions, details, record|Working|Picture|Print|Again",
		5: "Calls|Cautions, details, record|Working|Picture, print|Again",
	} {
		var titles, ids []string
		for _, g := range present.Grouped(all, most) {
			titles, ids = append(titles, g.Title), append(ids, g.ID)
		}
		if got := strings.Join(titles, "|"); got != want {
			t.Errorf("%d: %s, want %s", most, got, want)
		}
		if got := strings.Join(ids, "+"); got != "calls+cautions+details+record+working+picture+print+again" {
			t.Errorf("%d: ids %s", most, got)
		}
	}
}
