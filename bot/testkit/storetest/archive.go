package storetest

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"firn/bot/outbox"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

func observationOnce(t *testing.T, s Store) {
	ctx := t.Context()
	o := fullObservation()
	mustHold(t, "SaveObservation", true)(s.SaveObservation(ctx, o))
	again := o
	again.Received = at(7)
	mustHold(t, "the same, received again", false)(s.SaveObservation(ctx, again))
	got, found, err := s.LatestObservation(ctx, o.Ident, "")
	if !found || err != nil {
		t.Fatalf("LatestObservation: found %v, %v", found, err)
	}
	same(t, "the observation, as first received", got, o)
	for i, change := range []func(*weather.Observation){
		func(o *weather.Observation) { o.Ident = "XKLE" },
		func(o *weather.Observation) { o.Source = "METAR (service)" },
		func(o *weather.Observation) { o.At = at(3) },
		func(o *weather.Observation) { o.Raw = "METAR COR" },
		func(o *weather.Observation) { o.C = -38.2 },
	} {
		other := o
		change(&other)
		mustHold(t, fmt.Sprintf("change %d", i), true)(s.SaveObservation(ctx, other))
		mustHold(t, fmt.Sprintf("change %d again", i), false)(s.SaveObservation(ctx, other))
	}
}

func observationFields(t *testing.T, s Store) {
	o := fullObservation()
	full(t, "Observation", reflect.ValueOf(o))
	typed := weather.Observation{Ident: "XKLE", At: at(2), Source: "typed by duty officer"}
	for _, want := range []weather.Observation{o, typed} {
		mustHold(t, "SaveObservation", true)(s.SaveObservation(t.Context(), want))
		got, found, err := s.LatestObservation(t.Context(), want.Ident, want.Source)
		if !found || err != nil {
			t.Fatalf("LatestObservation: found %v, %v", found, err)
		}
		same(t, "observation", got, want)
	}
}

func observationLatest(t *testing.T, s Store) {
	ctx := t.Context()
	for _, o := range []weather.Observation{
		{Ident: "XKLD", C: -1, At: at(10), Source: "a", Received: at(20)},
		{Ident: "XKLD", C: -2, At: at(12), Source: "a", Received: at(20)},
		{Ident: "XKLD", C: -3, At: at(11), Source: "a", Received: at(30)}, // came late
		{Ident: "XKLD", C: -4, At: at(13), Source: "b", Received: at(14)},
		{Ident: "XKLD", C: -6, At: at(13), Source: "b", Received: at(16), Raw: "COR"}, // a correction
		{Ident: "XKLD", C: -5, At: at(13), Source: "b", Received: at(15), Raw: "came late"},
		{Ident: "XKLE", C: -9, At: at(40), Source: "a", Received: at(41)},
	} {
		mustHold(t, "SaveObservation", true)(s.SaveObservation(ctx, o))
	}
	for _, c := range []struct {
		ident, source string
		want          engine.Celsius
		found         bool
	}{
		{"XKLD", "", -6, true},
		{"XKLD", "a", -2, true},
		{"XKLD", "b", -6, true},
		{"XKLD", "c", 0, false},
		{"XKLE", "", -9, true},
		{"xkld", "", 0, false},
		{"", "", 0, false},
	} {
		o, found, err := s.LatestObservation(ctx, c.ident, c.source)
		if err != nil || found != c.found || o.C != c.want {
			t.Errorf("LatestObservation(%q, %q) = %v, %v, %v, want %v, %v", c.ident, c.source, o.C, found, err, c.want, c.found)
		}
	}
}

func forecastOnce(t *testing.T, s Store) {
	ctx := t.Context()
	f := fullForecast()
	mustHold(t, "SaveForecast", true)(s.SaveForecast(ctx, f))
	again := fullForecast()
	again.Received = at(17)
	mustHold(t, "the same, received again", false)(s.SaveForecast(ctx, again))
	got, found, err := s.LatestForecast(ctx, f.Ident, "")
	if !found || err != nil {
		t.Fatalf("LatestForecast: found %v, %v", found, err)
	}
	same(t, "the forecast, as first received", got, f)
	for i, change := range []func(*weather.Forecast){
		func(f *weather.Forecast) { f.Ident = "XKLE" },
		func(f *weather.Forecast) { f.Source = "TAF" },
		func(f *weather.Forecast) { f.Issued = at(8) },
		func(f *weather.Forecast) { f.ValidFrom = at(8) },
		func(f *weather.Forecast) { f.ValidTo = at(31) },
		func(f *weather.Forecast) { f.Raw = "TAF AMD" },
		func(f *weather.Forecast) { f.Hourly[1].C = -42 },
		func(f *weather.Forecast) { f.Minimums[0].At = at(5) },
		func(f *weather.Forecast) { f.Maximums = nil },
	} {
		other := fullForecast()
		change(&other)
		mustHold(t, fmt.Sprintf("change %d", i), true)(s.SaveForecast(ctx, other))
		mustHold(t, fmt.Sprintf("change %d again", i), false)(s.SaveForecast(ctx, other))
	}
}

func forecastFields(t *testing.T, s Store) {
	f := fullForecast()
	full(t, "Forecast", reflect.ValueOf(f))
	bare := weather.Forecast{Ident: "XKLE", Forecast: coldwatch.Forecast{Source: "TAF", Issued: at(1)}}
	for _, want := range []weather.Forecast{f, bare} {
		mustHold(t, "SaveForecast", true)(s.SaveForecast(t.Context(), want))
		got, found, err := s.LatestForecast(t.Context(), want.Ident, want.Source)
		if !found || err != nil {
			t.Fatalf("LatestForecast: found %v, %v", found, err)
		}
		same(t, "forecast", got, want)
	}
}

func forecastLatest(t *testing.T, s Store) {
	ctx := t.Context()
	one := func(ident, source, raw string, issued, received time.Time) weather.Forecast {
		return weather.Forecast{Ident: ident, Raw: raw, Received: received, Forecast: coldwatch.Forecast{Source: source, Issued: issued}}
	}
	for _, f := range []weather.Forecast{
		one("XKLD", "TAF", "1", at(10), at(20)),
		one("XKLD", "TAF", "2", at(12), at(20)),
		one("XKLD", "TAF", "3", at(11), at(30)),
		one("XKLD", "hourly forecast", "4", at(13), at(14)),
		one("XKLD", "hourly forecast", "6", at(13), at(16)),
		one("XKLD", "hourly forecast", "5", at(13), at(15)),
		one("XKLE", "TAF", "9", at(40), at(41)),
	} {
		mustHold(t, "SaveForecast", true)(s.SaveForecast(ctx, f))
	}
	for _, c := range []struct {
		ident, source, want string
		found               bool
	}{
		{"XKLD", "", "6", true},
		{"XKLD", "TAF", "2", true},
		{"XKLD", "hourly forecast", "6", true},
		{"XKLD", "taf", "", false},
		{"XKLE", "", "9", true},
		{"XKLF", "", "", false},
	} {
		f, found, err := s.LatestForecast(ctx, c.ident, c.source)
		if err != nil || found != c.found || f.Raw != c.want {
			t.Errorf("LatestForecast(%q, %q) = %q, %v, %v, want %q, %v", c.ident, c.source, f.Raw, found, err, c.want, c.found)
		}
	}
}

// odd are texts that have broken a store somewhere.
var odd = []string{
	"",
	" ",
	"'; drop table alert; --",
	`"quoted" \ 'single' ` + "`back`",
	"line\nbreak\r\ntab\t\x01\x7f",
	"−38 °C Þingvellir 北海道 🥶 e\u0301 é",
	"\ufeff\u200b\u2028\ufffd\U0010ffff",
	"%s ? $1 :name @p {}",
	"NULL",
	"0012",
	`{"json": [1, "\u0000"]}`,
}

func oddTexts(t *testing.T, s Store) {
	ctx := t.Context()
	for i, text := range odd {
		a := alert(1)
		a.Base, a.Judgement.Source, a.Judgement.Note = text, text, text
		p := outbox.Item{Key: "alert/" + text, Channel: "slack:" + text, Body: reply.Reply{Facts: []string{text, "\x00"}}, Made: morning, Due: morning}
		mustOpen(t, s, a, p)
		ack := watch.Ack{Base: text, Day: a.Day, Seq: 1, By: text, At: morning}
		mustHold(t, fmt.Sprintf("Acknowledge by %q", text), true)(s.Acknowledge(ctx, ack, nil))
		if err := s.Snooze(ctx, text, a.Day, later, text); err != nil {
			t.Errorf("Snooze by %q: %v", text, err)
		}
		d, err := s.Day(ctx, text, a.Day)
		if err != nil {
			t.Fatalf("Day(%q): %v", text, err)
		}
		same(t, "day", d, watch.Day{Alerts: []watch.Alert{a}, Acks: []watch.Ack{ack}, SnoozedUntil: later})
		c := mustClaimOne(t, s, long)
		same(t, "claim", c, outbox.Claim{Item: p, Attempt: 1})
		mustHold(t, fmt.Sprintf("Done of %q", text), true)(s.Done(ctx, c, text, later))
		mustHold(t, fmt.Sprintf("Lease of %q", text), true)(s.Lease(ctx, text, text, long))
		mustHold(t, fmt.Sprintf("Lease of %q by another", text), false)(s.Lease(ctx, text, text+"x", long))
		r := record.Result{ID: text, Surface: text, Message: text, Thread: text, Channel: text, Text: text, At: at(i)}
		mustAdd(t, s, record.Fresh, r)
		same(t, "record", mustFind(t, s, text), record.Record{Result: r})
	}
	// As received is byte for byte, whatever the bytes are.
	for i, raw := range append([]string{"\x00", "a\x00b\x00", "\xff\xfe", "M38/\xc3", "\xed\xa0\x80"}, odd...) {
		o := weather.Observation{Ident: "XKLD", Source: "s", At: at(i), Raw: raw}
		mustHold(t, fmt.Sprintf("SaveObservation %q", raw), true)(s.SaveObservation(ctx, o))
		gotO, _, err := s.LatestObservation(ctx, "XKLD", "s")
		if err != nil || gotO.Raw != raw {
			t.Errorf("LatestObservation: raw = %q, %v, want %q", gotO.Raw, err, raw)
		}
		f := weather.Forecast{Ident: "XKLD", Raw: raw, Forecast: coldwatch.Forecast{Source: "s", Issued: at(i)}}
		mustHold(t, fmt.Sprintf("SaveForecast %q", raw), true)(s.SaveForecast(ctx, f))
		gotF, _, err := s.LatestForecast(ctx, "XKLD", "s")
		if err != nil || gotF.Raw != raw {
			t.Errorf("LatestForecast: raw = %q, %v, want %q", gotF.Raw, err, raw)
		}
	}
}

func notTexts(t *testing.T, s Store) {
	ctx := t.Context()
	mustOpen(t, s, alert(9), post(alert(9), "page"))
	c := mustClaimOne(t, s, long)
	for _, bad := range []string{"a\x00b", "\xff", "\xed\xa0\x80"} {
		base, note := alert(1), alert(1)
		base.Base, note.Judgement.Note = bad, bad
		key, channel := post(alert(1), "page"), post(alert(1), bad)
		key.Key = bad
		refused := func(what string) func(bool, error) {
			return func(fresh bool, err error) {
				t.Helper()
				if fresh || err == nil {
					t.Errorf("%s %q = %v, %v, want an error", what, bad, fresh, err)
				}
			}
		}
		refused("Open, base")(s.Open(ctx, base, nil))
		refused("Open, note")(s.Open(ctx, note, nil))
		refused("Open, key")(s.Open(ctx, alert(1), []outbox.Item{key}))
		refused("Open, channel")(s.Open(ctx, alert(1), []outbox.Item{channel}))
		refused("Acknowledge")(s.Acknowledge(ctx, watch.Ack{Base: "XKLD", Day: "2026-01-15", Seq: 1, By: bad}, nil))
		refused("Snooze")(false, s.Snooze(ctx, "XKLD", "2026-01-15", later, bad))
		refused("Lease, name")(s.Lease(ctx, bad, "a", long))
		refused("Lease, holder")(s.Lease(ctx, "n", bad, long))
		refused("Done")(s.Done(ctx, c, bad, later))
		refused("Later")(s.Later(ctx, c, later, bad))
		refused("GiveUp")(s.GiveUp(ctx, c, bad, later))
		refused("SaveObservation")(s.SaveObservation(ctx, weather.Observation{Ident: "XKLD", Source: bad}))
		refused("SaveForecast")(s.SaveForecast(ctx, weather.Forecast{Ident: bad}))
		_, err := s.AddRecords(ctx, []record.Result{made(1), {ID: "2", Surface: bad}})
		refused("AddRecords")(false, err)
		refused("AddCards")(false, s.AddCards(ctx, []record.Mark{{Surface: "s", Ref: bad}}))
	}
	d, err := s.Day(ctx, "XKLD", "2026-01-15")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "the day", d, watch.Day{Alerts: []watch.Alert{alert(9)}})
	if _, found, err := s.LatestObservation(ctx, "XKLD", ""); found || err != nil {
		t.Errorf("LatestObservation: found %v, %v", found, err)
	}
	mustHold(t, "the name", true)(s.Lease(ctx, "n", "a", long))
	mustHold(t, "Done with a text", true)(s.Done(ctx, c, "ref", later))
}

func notTemperatures(t *testing.T, s Store) {
	ctx := t.Context()
	for _, bad := range []engine.Celsius{engine.Celsius(math.NaN()), engine.Celsius(math.Inf(1)), engine.Celsius(math.Inf(-1))} {
		a := alert(1)
		a.Judgement.Low = bad
		if fresh, err := s.Open(ctx, a, nil); fresh || err == nil {
			t.Errorf("Open with low %v = %v, %v, want an error", bad, fresh, err)
		}
		o := fullObservation()
		o.C = bad
		if fresh, err := s.SaveObservation(ctx, o); fresh || err == nil {
			t.Errorf("SaveObservation of %v = %v, %v, want an error", bad, fresh, err)
		}
		f := fullForecast()
		f.Hourly[0].C = bad
		if fresh, err := s.SaveForecast(ctx, f); fresh || err == nil {
			t.Errorf("SaveForecast with %v = %v, %v, want an error", bad, fresh, err)
		}
	}
	d, err := s.Day(ctx, "XKLD", "2026-01-15")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "the day", d, watch.Day{})
}

func largeBodies(t *testing.T, s Store) {
	ctx := t.Context()
	big := strings.Repeat("−38 °C 'x' \\ ", 100_000) // 1.7 MB
	p := post(alert(1), "page")
	p.Body.Facts = []string{big}
	mustOpen(t, s, alert(1), p)
	if c := mustClaimOne(t, s, long); len(c.Body.Facts) != 1 || c.Body.Facts[0] != big {
		t.Errorf("a body of %d bytes came back otherwise", len(big))
	}
	o := fullObservation()
	o.Raw = big
	mustHold(t, "SaveObservation", true)(s.SaveObservation(ctx, o))
	mustHold(t, "SaveObservation again", false)(s.SaveObservation(ctx, o))
	if got, _, err := s.LatestObservation(ctx, o.Ident, ""); err != nil || got.Raw != big {
		t.Errorf("a report of %d bytes came back otherwise: %v", len(big), err)
	}
	r := fullMade()
	r.Text, r.Reply.Source = big, big
	mustAdd(t, s, record.Fresh, r)
	if got := mustFind(t, s, r.ID); got.Text != big || got.Reply.Source != big {
		t.Errorf("a record of %d bytes came back otherwise", 2*len(big))
	}
}

func replyUnchanged(t *testing.T, s Store) {
	ctx := t.Context()
	full(t, "Reply", reflect.ValueOf(fullReply()))
	for i, want := range []reply.Reply{
		fullReply(),
		{},
		{Kind: reply.KindStatus, TemperatureC: reply.Some(0), Required: reply.No},
		reply.Ask(reply.Problem{Text: "t", Try: "XKLD -38 8200"}),
	} {
		wantJSON, err := json.Marshal(want)
		if err != nil {
			t.Fatal(err)
		}
		p := post(alert(i+1), "page")
		p.Body = want
		mustOpen(t, s, alert(i+1), p)
		c := mustClaimOne(t, s, long)
		mustHold(t, "Done", true)(s.Done(ctx, c, "ref", later))
		same(t, "body", c.Body, want)
		if got, err := json.Marshal(c.Body); string(got) != string(wantJSON) || err != nil {
			t.Errorf("body as JSON:\n got %s, %v\nwant %s", got, err, wantJSON)
		}
		r := made(i)
		r.Reply = want
		mustAdd(t, s, record.Fresh, r)
		same(t, "reply", mustFind(t, s, r.ID).Reply, want)
	}
	// What the caller changes afterwards is not the store's.
	p := post(alert(90), "page")
	mustOpen(t, s, alert(90), p)
	p.Body.Facts[0] = "changed"
	if c := mustClaimOne(t, s, long); c.Body.Facts[0] == "changed" {
		t.Error("the store shares a body with its caller")
	}
}

func times(t *testing.T, s Store) {
	ctx := t.Context()
	east := time.FixedZone("UTC+5:45", 5*3600+45*60)
	for i, c := range []struct{ in, want time.Time }{
		{time.Time{}, time.Time{}},
		{time.Date(2026, 1, 15, 18, 45, 0, 123456789, east), time.Date(2026, 1, 15, 13, 0, 0, 123456000, time.UTC)},
		{time.Date(2026, 1, 15, 13, 0, 0, 999999999, time.UTC), time.Date(2026, 1, 15, 13, 0, 0, 999999000, time.UTC)},
		{time.Date(1969, 12, 31, 23, 59, 59, 999999001, time.UTC), time.Date(1969, 12, 31, 23, 59, 59, 999999000, time.UTC)},
		{time.Date(2199, 12, 31, 23, 59, 59, 1000, time.UTC), time.Date(2199, 12, 31, 23, 59, 59, 1000, time.UTC)},
	} {
		a := alert(i + 1)
		a.Made, a.Judgement.LowAt, a.Judgement.Issued = c.in, c.in, c.in
		p := post(a, "page")
		p.Due = c.in
		mustOpen(t, s, a, p)
		d, err := s.Day(ctx, a.Base, a.Day)
		if err != nil {
			t.Fatal(err)
		}
		got := d.Alerts[len(d.Alerts)-1]
		same(t, "made", got.Made, c.want)
		same(t, "low at", got.Judgement.LowAt, c.want)
		claims, err := s.Claim(ctx, c.want, long, 10)
		if err != nil || len(claims) != 1 {
			t.Fatalf("Claim at %v = %v, %v, want one", c.want, keys(claims), err)
		}
		same(t, "due", claims[0].Due, c.want)
		mustHold(t, "Done", true)(s.Done(ctx, claims[0], "ref", later))
		ident := fmt.Sprintf("X%d", i)
		mustHold(t, "SaveObservation", true)(s.SaveObservation(ctx, weather.Observation{Ident: ident, At: c.in, Received: c.in}))
		mustHold(t, "SaveObservation, cut", false)(s.SaveObservation(ctx, weather.Observation{Ident: ident, At: c.want}))
		o, _, err := s.LatestObservation(ctx, ident, "")
		if err != nil {
			t.Fatal(err)
		}
		same(t, "observed", o.At, c.want)
		same(t, "received", o.Received, c.want)
		f := weather.Forecast{Ident: ident, Forecast: coldwatch.Forecast{Issued: c.in, Hourly: []coldwatch.Sample{{At: c.in}}}}
		mustHold(t, "SaveForecast", true)(s.SaveForecast(ctx, f))
		f, _, err = s.LatestForecast(ctx, ident, "")
		if err != nil {
			t.Fatal(err)
		}
		same(t, "issued", f.Issued, c.want)
		same(t, "hour", f.Hourly[0].At, c.want)
	}
}
