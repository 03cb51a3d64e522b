package storetest

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"firn/bot/outbox"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/engine/coldwatch"
)

// Run holds a store to its ports and to what doc.go says. open gives an empty
// store each time; the suite closes it.
func Run(t *testing.T, open func(t *testing.T) Store) {
	for _, c := range []struct {
		name string
		run  func(*testing.T, Store)
	}{
		{"an alert opens once and posts once", alertOnce},
		{"two callers open one alert", alertRace},
		{"alert and posts are all or nothing", alertAllOrNothing},
		{"alert and posts are all or nothing when cancelled in the middle", alertCancelled},
		{"a key is never posted again", keyForEver},
		{"one key goes to several channels", keyChannels},
		{"a day is told in order", dayInOrder},
		{"every field of an alert is kept", alertFields},
		{"an acknowledgement is fresh once", ackOnce},
		{"the last snooze holds", snooze},

		{"a post that is no alert's is written once", postsOnce},
		{"posts are all or nothing", postsAllOrNothing},
		{"eight add one post", postsRace},
		{"eight write the next posts", postsNext},
		{"claims come in the order of due", claimOrder},
		{"only what is due is claimed", claimDue},
		{"a claim's limit is kept", claimLimit},
		{"a lease is exclusive", claimExclusive},
		{"a lease that ended lets another claim", claimExpired},
		{"a stale claim changes nothing", claimStale},
		{"a claim whose lease ended unseen still holds", claimUnseen},
		{"a claim ends once", claimEndsOnce},
		{"later is tried again when due", claimLater},
		{"the words on one thing keep their order", lineOrder},
		{"a word that waits holds up those after it", lineHeld},
		{"two claim the words on one thing", lineRace},
		{"what is given up stays visible", claimGiveUp},
		{"a claim is told from a forged one", claimForged},
		{"two claim at once", func(t *testing.T, s Store) { Contend(t, s, s) }},
		{"eight claim at once", func(t *testing.T, s Store) { Contend(t, s, s, s, s, s, s, s, s) }},
		{"workers that die lose nothing", func(t *testing.T, s Store) { Killed(t, s, s, s, s) }},
		{"the backlog is what waits", backlog},
		{"what was sent stands", postsStanding},

		{"a name has one holder", leaseExclusive},
		{"a lease is extended by its holder", leaseExtend},
		{"a lease ends", leaseExpires},
		{"a lease is released by its holder only", leaseRelease},
		{"who has a lease, and for how long", leaseHeld},
		{"eight want one name", leaseRace},

		{"an observation is kept once", observationOnce},
		{"every field of an observation is kept", observationFields},
		{"the latest observation", observationLatest},
		{"a forecast is kept once", forecastOnce},
		{"every field of a forecast is kept", forecastFields},
		{"the latest forecast", forecastLatest},

		{"a record is kept once", recordOnce},
		{"every field of a record is kept", recordFields},
		{"a next version takes a record's place", recordReplaced},
		{"a deed needs the revision that was read", recordRevision},
		{"eight press at once", func(t *testing.T, s Store) { Press(t, s, s, s, s, s, s, s, s) }},
		{"records are found", recordQueries},
		{"a thousand records in order", recordThousand},
		{"cards are behind until they are told", cards},
		{"a card belongs to the later record", cardMoves},
		{"cards are kept with their records", cardsWith},
		{"a card is marked by one", cardMarked},
		{"the history is sound", historySound},
		{"the history tells what was touched", historyTouched},
		{"eight write one history", func(t *testing.T, s Store) { Write(t, s, s, s, s, s, s, s, s) }},
		{"what is old goes and the rest is proved", pruned},
		{"what is old stays with what hangs on it", prunedNot},

		{"odd texts are kept", oddTexts},
		{"what is not text is refused", notTexts},
		{"temperatures that are none are refused", notTemperatures},
		{"large bodies are kept", largeBodies},
		{"a reply comes back unchanged", replyUnchanged},
		{"times come back in UTC to the microsecond", times},
		{"a cancelled context changes nothing", cancelled},
		{"a closed store says so", closed},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := open(t)
			t.Cleanup(func() {
				if err := s.Close(); err != nil {
					t.Errorf("Close: %v", err)
				}
			})
			c.run(t, s)
		})
	}
}

// long is a lease that no test outlives; short is one that every test can
// wait for.
const (
	long  = time.Hour
	short = 30 * time.Millisecond
)

// morning is when the suite's alerts are made and due.
var morning = time.Date(2026, 1, 15, 13, 0, 0, 0, time.UTC)

// later is a now to which every item of the suite is due.
var later = morning.Add(24 * time.Hour)

// alert is an alert of the suite's base.
func alert(seq int) watch.Alert { return alertOf("XKLD", seq) }

// alertOf is an alert of any base.
func alertOf(base string, seq int) watch.Alert {
	return watch.Alert{Base: base, Day: "2026-01-15", Seq: seq, Kind: watch.Opened, Made: morning}
}

func alertKeyOf(a watch.Alert) string { return fmt.Sprintf("alert/%s/%s/%d", a.Base, a.Day, a.Seq) }

// post is an alert's post to a channel.
func post(a watch.Alert, channel string) outbox.Item {
	return outbox.Item{
		Key:     alertKeyOf(a),
		Channel: channel,
		Body:    reply.Reply{Kind: reply.KindStatus, Facts: []string{"low −41 °C at 12:00Z"}},
		Made:    a.Made,
		Due:     a.Made,
	}
}

// mustOpen opens an alert that must be fresh.
func mustOpen(t testing.TB, s Store, a watch.Alert, posts ...outbox.Item) {
	t.Helper()
	if fresh, err := s.Open(t.Context(), a, posts); !fresh || err != nil {
		t.Fatalf("Open(%s) = %v, %v, want fresh", alertKeyOf(a), fresh, err)
	}
}

// mustClaim claims what is due later.
func mustClaim(t testing.TB, s Store, lease time.Duration, limit int) []outbox.Claim {
	t.Helper()
	claims, err := s.Claim(t.Context(), later, lease, limit)
	if err != nil {
		t.Fatalf("Claim: %v", err)
	}
	return claims
}

// mustClaimOne claims the one item that is there.
func mustClaimOne(t testing.TB, s Store, lease time.Duration) outbox.Claim {
	t.Helper()
	claims := mustClaim(t, s, lease, 10)
	if len(claims) != 1 {
		t.Fatalf("Claim = %d items, want 1: %v", len(claims), keys(claims))
	}
	return claims[0]
}

// mustHold checks what Done, Later, GiveUp or Lease said.
func mustHold(t testing.TB, what string, want bool) func(held bool, err error) {
	return func(held bool, err error) {
		t.Helper()
		if held != want || err != nil {
			t.Errorf("%s: held = %v, %v, want %v", what, held, err, want)
		}
	}
}

// keys are the claims as key@channel.
func keys(claims []outbox.Claim) []string {
	var out []string
	for _, c := range claims {
		out = append(out, c.Key+"@"+c.Channel)
	}
	return out
}

// soon waits for what the store's own clock brings. The suite waits in real
// time, because a database's clock is nobody's to set.
func soon(t testing.TB, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); !ok(); time.Sleep(2 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("waited in vain: %s", what)
		}
	}
}

// same compares two values as a reader would.
func same(t testing.TB, what string, got, want any) {
	t.Helper()
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%s:\n got %+v\nwant %+v", what, got, want)
	}
}

// fullFields checks that each field is set in one of some structs: not all of
// them go together in one row.
func fullFields(t testing.TB, path string, all ...reflect.Value) {
	t.Helper()
	for i := range all[0].NumField() {
		// What its package alone sees, or what holds for a moment, is not kept.
		f := all[0].Type().Field(i)
		if !f.IsExported() || f.Tag.Get("store") == "-" {
			continue
		}
		set := all[0].Field(i)
		for _, v := range all {
			if set.IsZero() {
				set = v.Field(i)
			}
		}
		full(t, path+"."+f.Name, set)
	}
}

// full checks that a value of the suite sets every field, so that a field
// that is added one day must be kept too.
func full(t testing.TB, path string, v reflect.Value) {
	t.Helper()
	switch {
	case v.Type() == reflect.TypeFor[time.Time](), v.Type() == reflect.TypeFor[reply.OptFloat]():
	case v.Kind() == reflect.Struct:
		fullFields(t, path, v)
		return
	case v.Kind() == reflect.Pointer && !v.IsNil():
		full(t, path, v.Elem())
		return
	case v.Kind() == reflect.Slice && v.Len() > 0 && v.Index(0).Kind() == reflect.Struct:
		all := make([]reflect.Value, v.Len())
		for i := range all {
			all[i] = v.Index(i)
		}
		fullFields(t, path+"[]", all...)
		return
	case v.Kind() == reflect.Slice && v.Len() > 0:
		full(t, path+"[0]", v.Index(0))
		return
	}
	if v.IsZero() {
		t.Fatalf("the suite sets no %s", path)
	}
}

// at is a time with microseconds; no two are alike.
func at(n int) time.Time {
	return morning.Add(time.Duration(n)*time.Minute + time.Duration(n)*time.Microsecond)
}

// fullAlert sets every field.
func fullAlert() watch.Alert {
	return watch.Alert{
		Base: "XKLD", Day: "2026-01-15", Seq: 3, Kind: watch.Escalated,
		Judgement: coldwatch.Judgement{
			State: coldwatch.Below, Low: -41.3, LowAt: at(1), BelowFrom: at(2), BelowTo: at(3),
			HoursKnown: true, Covered: true, CoveredFrom: at(6), CoveredTo: at(7), Restriction: -27.7,
			Source: "hourly forecast", Issued: at(4), Note: "TAF says −38",
		},
		Made: at(5),
	}
}

// fullReply sets every field.
func fullReply() reply.Reply {
	return reply.Reply{
		Kind:              reply.KindCorrection,
		Station:           reply.Station{Ident: "XKLD", Name: "Keld “North”", ElevationFt: 4802, Known: true},
		TemperatureC:      reply.Some(-38.1),
		TemperatureSource: "typed",
		Rules:             "faa-all-segments",
		RulesVersion:      "2026-01",
		Unverified:        "not verified",
		Method:            "table",
		Required:          reply.Yes,
		SBAS:              true,
		Compensated:       true,
		Notes:             []string{"Not used: outside."},
		Line:              "XKLD -38 8200",
		Headline:          "XKLD, −38 °C: correct all segments",
		Stops:             []reply.Stop{{Code: "baro-limit", Text: "NA below −28"}},
		Call:              &reply.Call{Way: "via", When: "if cleared", Text: "Request", Spoken: "request", Source: "AIM"},
		Facts:             []string{"one <b> & two", "", "three\n\u2028"},
		Altitudes: []reply.Row{
			{
				Label: "A", Fix: "FAFFO", Segment: "final", Meaning: "at or above",
				PublishedFt: 8200, HeightFt: 3398, CorrectionFt: 1.0 / 3, CorrectedFt: 8540,
				UpperPublishedFt: 9200, UpperCorrectedFt: 9600, PublishedM: 2499.36, CorrectedM: 2602.99,
				Required: true, Report: true, Why: "final segment",
				State: reply.StateRequired, Mark: "LNAV only", Via: []string{"XADLO", "XEMBA"}, TrueUncorrectedFt: 7840.5, TrueCorrectedFt: 8201.25,
			},
			{Label: "IAF", Fix: "XADLO", Segment: "initial", Via: []string{"XADLO"}, NoAltitude: true, Why: "none is published"},
			{PublishedFt: 1e300, HeightFt: 5e-324, CorrectionFt: -0.1, Why: "figures at the ends of what a float holds"},
		},
		Requests: []reply.Request{{When: "on first contact", Text: "XKLD", Spoken: "one zero thousand", Source: "AIM"}},
		Cautions: []reply.Caution{{Code: "cold", Text: "−38 °C", Standing: true}},
		Working: []reply.Working{{
			PublishedFt: 8200, Name: "A",
			Methods: []reply.MethodFigure{{Method: "table", CorrectionFt: 339.99999999999994}},
			ErrorFt: 12.5,
			Steps:   []reply.Step{{Text: "step", Source: "ICAO"}},
		}},
		Sections: []reply.Section{{Title: "T", Lines: []string{"l"}}},
		Source:   "source line",
		Problem:  &reply.Problem{Word: "38", Text: "38 has no sign", Try: "XKLD -38 8200"},
		Alert: &reply.Cold{
			Ident: "XKLD", State: "below", Kind: "opened", LowC: reply.Some(-38.1), LowAt: at(1), BelowFrom: at(2), BelowTo: at(3), Estimated: true,
			CoveredFrom: at(5), CoveredTo: at(6), RestrictionC: reply.Some(-25), Source: "TAF", Issued: at(4), Note: "part of the window", Doubt: "TAF failed", Past: true, SnoozedUntil: at(7), SeenBy: "“Anna”", SeenAt: at(6), ObservedC: reply.Some(-31), ObservedAt: at(5),
		},
		Picture: "profile", PictureOf: "XKLD", Paper: "a5", Enter: &reply.BlindCheck{Record: "KALOMI-RUTA", Altitudes: []string{"FAF 8200"}}, Procedure: "rnav 31", FlownAs: "loc 31", PathDeg: reply.Some(3.1), EffectiveDeg: reply.Some(2.65),
		Stations: []reply.Field{{
			Ident: "XK01", Name: "Keld", ElevationFt: reply.Some(4802), RestrictionC: reply.Some(-25), Segments: []string{"final"}, DistanceNM: reply.Some(12.5), Listed: true,
		}},
		Arrivals: []reply.Arrival{{
			Station: reply.Station{Ident: "XKLD", Name: "Kaldmoor", ElevationFt: 4802, Known: true}, At: at(1), Local: "Thu 15 Jan 06:00 local", Alternate: true,
			TemperatureC: reply.Some(-31), Bound: true, Observed: true, TemperatureSource: "TAF", Issued: at(2), RestrictionC: reply.Some(-25), Required: reply.Yes, RecomputeC: reply.Some(-32),
			Procedures: []reply.ArrivalPlan{{Name: "rnav 31", Stops: []reply.Stop{{Code: "baro-limit", Text: "NA below −28"}}, Altitudes: []reply.Row{{Label: "FAF", Fix: "XOVEL", Segment: "intermediate", Meaning: "between", PublishedFt: 8200, HeightFt: 3398, CorrectionFt: 800, CorrectedFt: 9000, UpperPublishedFt: 9200, UpperCorrectedFt: 10000, PublishedM: 2499.36, CorrectedM: 2743.2, Required: true, Report: true, Why: "own", State: reply.StateAdvised, Mark: "LNAV only", Via: []string{"XADLO"}, TrueUncorrectedFt: 7800, TrueCorrectedFt: 8600}, {Label: "IAF", Fix: "XADLO", NoAltitude: true}}, Cautions: []reply.Caution{{Code: "c", Text: "t", Standing: true}}}},
			BelowFrom:  at(3), BelowTo: at(4), Estimated: true, Unmet: []string{"lpv"},
			Note: "part of it", Doubt: "old", Longer: true,
		}},
		Expected: []reply.ArrivalPlan{{Name: "rnav 31", Stops: []reply.Stop{{Code: "baro-limit", Text: "NA below −28"}}, Altitudes: []reply.Row{{Label: "FAF", Fix: "XOVEL", Segment: "intermediate", Meaning: "between", PublishedFt: 8200, HeightFt: 3398, CorrectionFt: 800, CorrectedFt: 9000, UpperPublishedFt: 9200, UpperCorrectedFt: 10000, PublishedM: 2499.36, CorrectedM: 2743.2, Required: true, Report: true, Why: "own", State: reply.StateAdvised, Mark: "LNAV only", Via: []string{"XADLO"}, TrueUncorrectedFt: 7800, TrueCorrectedFt: 8600}, {Label: "IAF", Fix: "XADLO", NoAltitude: true}}, Cautions: []reply.Caution{{Code: "c", Text: "t", Standing: true}}}},
		Confirm:  "KALOMI-RUTA",
		Route: &reply.OnRoute{
			MinimumFt: 11600, HeightFt: 6798, CorrectionFt: 934, CorrectedFt: 12600, TrueFt: 10837, DeviationC: reply.Some(-30.5),
			OutsideC: reply.Some(-40), TrueByOutsideFt: reply.Some(10779), Strict: true,
		},
		Digest: &reply.Digest{Day: "2026-01-15", Word: reply.DigestBase, Told: []string{"XKLD/01-15/1"}, Under: "digest/2026-01-15/1"},
		Bases: []reply.Cold{{
			Ident: "XRUN", State: "below", Kind: "amended", LowC: reply.Some(-20.5), LowAt: at(1), BelowFrom: at(3), BelowTo: at(4), Estimated: true,
			CoveredFrom: at(5), CoveredTo: at(6), RestrictionC: reply.Some(-20), Source: "TAF (folder)", Issued: at(2), Note: "to 04Z", Doubt: "old", Past: true, SnoozedUntil: at(8), SeenBy: "Bo", SeenAt: at(7), ObservedC: reply.Some(-26), ObservedAt: at(6),
		}},
		Record: &reply.RecordStatus{
			ID: "KALOMI-RUTA", Version: 2, State: "checked", Lines: []string{"Computed by Anna at 12:00Z."}, ValidUntil: at(9),
		},
		Mine: &reply.Mine{
			Check: []reply.MineItem{{ID: "KALOMI-RUTA", Text: "XKLD, −38 °C", Actions: []reply.Action{{ID: "check", Label: "Check", Message: "check", Whole: "check KALOMI-RUTA"}}}},
			Again: []reply.MineItem{{ID: "KALOMI-RUTI", Text: "XRUN, −20 °C", Actions: []reply.Action{{ID: "check", Label: "Check", Message: "check", Whole: "check KALOMI-RUTA"}}}},
			Bases: []reply.MineItem{{ID: "XRUN", Text: "XRUN −21 °C", Actions: []reply.Action{{ID: "check", Label: "Check", Message: "check", Whole: "check KALOMI-RUTA"}}}},
		},
		Actions: []reply.Action{{ID: "why", Label: "Why?", Message: "why", Whole: "why XKLD -38 8200"}},
	}
}

// fullObservation sets every field.
func fullObservation() weather.Observation {
	return weather.Observation{
		Ident: "XKLD", C: -38.1, At: at(1), Source: "METAR (folder)",
		Raw: "METAR XKLD 151153Z 00000KT M38/M42 A3012=\r\n", Received: at(2),
	}
}

// fullForecast sets every field.
func fullForecast() weather.Forecast {
	return weather.Forecast{
		Forecast: coldwatch.Forecast{
			Source: "hourly forecast", Issued: at(1), ValidFrom: at(2), ValidTo: at(30),
			Hourly:   []coldwatch.Sample{{At: at(3), C: -30.1}, {At: at(4), C: -41}},
			Minimums: []coldwatch.Sample{{At: at(4), C: -41}},
			Maximums: []coldwatch.Sample{{At: at(9), C: 1.0 / 3}},
		},
		Ident: "XKLD", Raw: "TAF XKLD 151120Z\n  TN M41/1512Z=", Received: at(5),
	}
}

// calls are all methods of a store, as calls that would change or find
// something.
func calls() []struct {
	name string
	call func(context.Context, Store) error
} {
	c := outbox.Claim{Item: post(alert(1), "page"), Attempt: 1}
	return []struct {
		name string
		call func(context.Context, Store) error
	}{
		{"Open", func(ctx context.Context, s Store) error {
			_, err := s.Open(ctx, alert(2), []outbox.Item{post(alert(2), "page")})
			return err
		}},
		{"AddPosts", func(ctx context.Context, s Store) error {
			_, err := s.AddPosts(ctx, []outbox.Item{resultPost("page")})
			return err
		}},
		{"AddNext", func(ctx context.Context, s Store) error {
			_, err := s.AddNext(ctx, []outbox.Item{resultPost("page")})
			return err
		}},
		{"Day", func(ctx context.Context, s Store) error {
			_, err := s.Day(ctx, "XKLD", "2026-01-15")
			return err
		}},
		{"Acknowledge", func(ctx context.Context, s Store) error {
			_, err := s.Acknowledge(ctx, watch.Ack{Base: "XKLD", Day: "2026-01-15", Seq: 1, By: "U1", At: morning}, nil)
			return err
		}},
		{"Snooze", func(ctx context.Context, s Store) error {
			return s.Snooze(ctx, "XKLD", "2026-01-15", later, "U1")
		}},
		{"Lease", func(ctx context.Context, s Store) error {
			_, err := s.Lease(ctx, "free", "a", long)
			return err
		}},
		{"Release", func(ctx context.Context, s Store) error { return s.Release(ctx, "held", "a") }},
		{"Held", func(ctx context.Context, s Store) error { _, err := s.Held(ctx, "held"); return err }},
		{"Posts", func(ctx context.Context, s Store) error {
			_, err := s.Posts(ctx, "alert/", time.Time{})
			return err
		}},
		{"Standing", func(ctx context.Context, s Store) error {
			_, err := s.Standing(ctx, "alert/", time.Time{})
			return err
		}},
		{"Claim", func(ctx context.Context, s Store) error {
			_, err := s.Claim(ctx, later, long, 10)
			return err
		}},
		{"Done", func(ctx context.Context, s Store) error {
			_, err := s.Done(ctx, c, "ref", later)
			return err
		}},
		{"Later", func(ctx context.Context, s Store) error {
			_, err := s.Later(ctx, c, later, "reason")
			return err
		}},
		{"GiveUp", func(ctx context.Context, s Store) error {
			_, err := s.GiveUp(ctx, c, "reason", later)
			return err
		}},
		{"Backlog", func(ctx context.Context, s Store) error {
			_, err := s.Backlog(ctx)
			return err
		}},
		{"SaveObservation", func(ctx context.Context, s Store) error {
			_, err := s.SaveObservation(ctx, fullObservation())
			return err
		}},
		{"SaveForecast", func(ctx context.Context, s Store) error {
			_, err := s.SaveForecast(ctx, fullForecast())
			return err
		}},
		{"LatestObservation", func(ctx context.Context, s Store) error {
			_, _, err := s.LatestObservation(ctx, "XKLD", "")
			return err
		}},
		{"LatestForecast", func(ctx context.Context, s Store) error {
			_, _, err := s.LatestForecast(ctx, "XKLD", "")
			return err
		}},
		{"AddRecords", func(ctx context.Context, s Store) error {
			_, err := s.AddRecords(ctx, []record.Result{fullMade()})
			return err
		}},
		{"Record", func(ctx context.Context, s Store) error {
			_, _, err := s.Record(ctx, "one")
			return err
		}},
		{"EachRecord", func(ctx context.Context, s Store) error {
			return s.EachRecord(ctx, record.Query{}, func(record.Record) error { return nil })
		}},
		{"Apply", func(ctx context.Context, s Store) error {
			_, err := s.Apply(ctx, record.Record{Result: made(1)}, record.Change{Kind: record.KindExpired, At: at(1)})
			return err
		}},
		{"AddCards", func(ctx context.Context, s Store) error {
			return s.AddCards(ctx, []record.Mark{{Surface: "slack", Ref: "r"}})
		}},
		{"DropCard", func(ctx context.Context, s Store) error { return s.DropCard(ctx, "slack", "r") }},
		{"CardOf", func(ctx context.Context, s Store) error {
			_, _, err := s.CardOf(ctx, "slack", "r")
			return err
		}},
		{"Untold", func(ctx context.Context, s Store) error {
			_, err := s.Untold(ctx, later, 10)
			return err
		}},
		{"SetMark", func(ctx context.Context, s Store) error {
			_, err := s.SetMark(ctx, record.Mark{}, record.Mark{})
			return err
		}},
		{"Walk", func(ctx context.Context, s Store) error {
			_, err := s.Walk(ctx, func(record.Sealed) error { return nil }, func(record.Stored) error { return nil })
			return err
		}},
		{"End", func(ctx context.Context, s Store) error {
			_, err := s.Head(ctx)
			return err
		}},
		{"Touched", func(ctx context.Context, s Store) error {
			_, _, err := s.Touched(ctx, 0, 1, 1)
			return err
		}},
		{"Prune", func(ctx context.Context, s Store) error {
			_, err := s.Prune(ctx, later, later)
			return err
		}},
	}
}

// methods checks that calls leaves nothing out.
func methods(t *testing.T) {
	t.Helper()
	if got, want := len(calls())+1, reflect.TypeFor[Store]().NumMethod(); got != want {
		t.Errorf("the suite calls %d methods (with Close), the store has %d", got, want)
	}
}

func cancelled(t *testing.T, s Store) {
	methods(t)
	mustOpen(t, s, alert(1), post(alert(1), "page"))
	c := mustClaimOne(t, s, long)
	mustHold(t, "Lease", true)(s.Lease(t.Context(), "held", "a", long))
	before, err := s.Day(t.Context(), "XKLD", "2026-01-15")
	if err != nil {
		t.Fatal(err)
	}

	gone, cancel := context.WithCancel(t.Context())
	cancel()
	late, cancel := context.WithDeadline(t.Context(), morning.AddDate(-10, 0, 0))
	defer cancel()
	for _, m := range calls() {
		if err := m.call(gone, s); !errors.Is(err, context.Canceled) {
			t.Errorf("%s with a cancelled context: %v, want context.Canceled", m.name, err)
		}
		if err := m.call(late, s); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("%s after its deadline: %v, want context.DeadlineExceeded", m.name, err)
		}
	}

	after, err := s.Day(t.Context(), "XKLD", "2026-01-15")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "the day after cancelled calls", after, before)
	mustHold(t, "a name whose taking was cancelled, by another", true)(s.Lease(t.Context(), "free", "b", long))
	mustHold(t, "a name whose release was cancelled, by another", false)(s.Lease(t.Context(), "held", "b", long))
	if _, found, err := s.LatestObservation(t.Context(), "XKLD", ""); found || err != nil {
		t.Errorf("LatestObservation after a cancelled save: found %v, %v", found, err)
	}
	if _, found, err := s.LatestForecast(t.Context(), "XKLD", ""); found || err != nil {
		t.Errorf("LatestForecast after a cancelled save: found %v, %v", found, err)
	}
	if _, found, err := s.Record(t.Context(), fullMade().ID); found || err != nil {
		t.Errorf("Record after a cancelled save: found %v, %v", found, err)
	}
	mustHold(t, "Done of a claim whose ends were cancelled", true)(s.Done(t.Context(), c, "ref", later))
}

func closed(t *testing.T, s Store) {
	methods(t)
	if err := s.Close(); err != nil {
		t.Fatalf("Close: %v", err)
	}
	for _, m := range calls() {
		if err := m.call(t.Context(), s); err == nil {
			t.Errorf("%s of a closed store gives no error", m.name)
		}
	}
	if err := s.Close(); err != nil {
		t.Errorf("Close again: %v", err)
	}
}

// NoSecret checks that an error is there and that its text holds none of the
// secrets.
func NoSecret(t testing.TB, err error, secrets ...string) {
	t.Helper()
	if err == nil {
		t.Error("no error")
		return
	}
	for _, s := range secrets {
		// Also where a library quotes or splits what it was given.
		if strings.Contains(err.Error(), s) || strings.Contains(fmt.Sprintf("%+v %#v", err, err), s) {
			t.Errorf("the error holds a secret: %s", strings.ReplaceAll(err.Error(), s, "[the secret]"))
		}
	}
}
