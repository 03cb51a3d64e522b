package bot_test

import (
	"slices"
	"strings"
	"testing"

	"firn/bot"
	"firn/bot/approach"
	"firn/bot/reply"
	"firn/engine/procedure"
)

func askOf(t *testing.T, b *bot.Bot, text string) reply.Reply {
	t.Helper()
	r, err := b.Handle(t.Context(), bot.Message{Surface: "console", Text: text, At: noon})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// everyLineBarometric is the chart as an RNAV (RNP) one.
func everyLineBarometric(a *approach.Approach) {
	a.Minimums = []approach.Minimum{{Name: "RNP 0.15", Role: procedure.DecisionAltitude, Altitude: 5310, Barometric: true}}
}

// A minimum that is typed beside a chart does not pass by the stop of its line
// (AIM 7-3-3 a): with the line's figure it is that line, where every line is
// barometric it is one, where it could be of several it is asked about.
func TestTypedMinimumInheritsTheStop(t *testing.T) {
	const plain = "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	for _, c := range []struct {
		text   string
		change func(*approach.Approach)
		rows   int    // of minimums, of the figure typed
		asks   string // instead
	}{
		{"XKLD rnav 31 -30 DA 5310", everyLineBarometric, 1, ""},
		{"XKLD rnav 31 -30 5310", everyLineBarometric, 1, ""},
		{"XKLD rnav 31 -30 DA 5380", everyLineBarometric, 1, ""},
		{"XKLD rnav 31 -30 MDA 5380", everyLineBarometric, 1, ""},
		{"XKLD rnav 31 -30 5380", everyLineBarometric, 0, "Which line is 5380 of? The chart of rnav 31 has RNP 0.15 5310"},
		{"XKLD rnav 31 -30 DA 5340", nil, 1, ""},
		{"XKLD rnav 31 -30 MDA 5340", nil, 1, ""},
		{"XKLD rnav 31 -30 LNAV/VNAV 5380", nil, 1, ""},
		{"XKLD rnav 31 -30 DA 5380", nil, 0, "Which line is DA 5380 of? The chart of rnav 31 has LPV 5100, LNAV/VNAV 5340, LNAV 5460"},
		{"XKLD rnav 31 -30 minimums 5380", nil, 0, "Which line is minimums 5380 of?"},
	} {
		r := askOf(t, charted(t, plain, c.change), c.text)
		if c.asks != "" {
			if r.Problem == nil || !strings.HasPrefix(r.Problem.Text, c.asks) {
				t.Errorf("%s: got %s, want it asked", c.text, state(r))
			}
			continue
		}
		n := 0
		for _, a := range r.Altitudes {
			if a.PublishedFt >= 5310 && a.PublishedFt <= 5380 {
				n++
				if a.State != reply.StateNotUsable {
					t.Errorf("%s: %s %.0f is %s, want it not usable", c.text, a.Label, a.PublishedFt, a.State)
				}
			}
		}
		if n < c.rows || len(r.Stops) == 0 {
			t.Errorf("%s: got %s", c.text, state(r))
		}
	}
}

// Only lines are offered in place of a stopped one, each once.
func TestAlternativesAreLines(t *testing.T) {
	const plain = "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	for _, text := range []string{"XKLD rnav 31 -30 LNAV 5500", "XKLD rnav 31 -30 MDA 5500", "XKLD rnav 31 -30 LNAV/VNAV 5380"} {
		r := askOf(t, charted(t, plain, nil), text)
		if len(r.Stops) != 1 || r.Stops[0].Text != "Baro LNAV/VNAV NA below −28 (chart): SBAS, compensation, LPV, or LNAV." {
			t.Errorf("%s: got %s %+v", text, state(r), r.Stops)
		}
	}
}

// What is typed beside a chart makes no second truth.
func TestTypedBesideTheChart(t *testing.T) {
	const plain = "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	alone := askOf(t, charted(t, plain, nil), "XKLD rnav 31 -38")
	for _, c := range []struct {
		typed string
		more  int // rows
		asks  string
	}{
		{"FAF 7400", 0, ""}, {"7400", 0, ""}, {"missed 10200", 0, ""}, {"missed hold 10200", 0, ""}, {"LNAV 5460", 0, ""},
		{"missed 6000", 1, ""},
		{"FAF 7600", 0, "Which one: the chart of rnav 31 has FAF XIRTU at 7400, and you wrote FAF 7600?"},
		{"IF 8300", 0, "Which one: the chart of rnav 31 has IF XOLMI at 8200, and you wrote IF 8300?"},
		{"missed hold 12000", 0, "Which one: the chart of rnav 31 has missed XORLI at 10200, and you wrote missed hold 12000?"},
		{"missed 12000", 0, "Which one: the chart of rnav 31 has missed XORLI at 10200, and you wrote missed 12000?"},
		{"IAF XEMBA 10700", 0, "Which one: the chart of rnav 31 has IAF XEMBA at 10500, and you wrote IAF 10700?"},
	} {
		r := askOf(t, charted(t, plain, nil), "XKLD rnav 31 -38 "+c.typed)
		switch {
		case c.asks != "" && (r.Problem == nil || !strings.HasPrefix(r.Problem.Text, c.asks)):
			t.Errorf("%s: got %s, want %s", c.typed, state(r), c.asks)
		case c.asks == "" && len(r.Altitudes) != len(alone.Altitudes)+c.more:
			t.Errorf("%s: got %s, want %d rows more than %s", c.typed, state(r), c.more, state(alone))
		}
		if c.typed == "missed 6000" {
			for _, a := range r.Altitudes {
				if a.PublishedFt == 6000 && a.State != reply.StateUnchanged {
					t.Errorf("missed 6000 is %s, want as published", a.State)
				}
			}
		}
	}
}

// A remote altimeter source under an RNAV (RNP) chart: compensation does not
// lift it (AIM 5-4-5 has SBAS alone), and is not named where both forbid.
func TestRemoteAndCold(t *testing.T) {
	const plain = "stations: [{ident: XKLD, elevation_ft: 4802, remote: true, restriction_c: -25}]\n"
	for _, c := range []struct {
		text           string
		change         func(*approach.Approach)
		headline, says string
	}{
		{"XKLD rnav 31 -26 compensated yes", everyLineBarometric, "NA, remote altimeter source", "The whole procedure is NA with a remote altimeter source (station)."},
		{"XKLD rnav 31 -30", everyLineBarometric, "NA, remote altimeter source", "The whole procedure is NA below −28 (chart). The whole procedure is NA with a remote altimeter source (station)."},
		{"XKLD rnav 31 -30", nil, "correct all segments", "Baro LNAV/VNAV NA below −28 (chart): SBAS, LPV, or LNAV. Baro LNAV/VNAV NA with a remote altimeter source (station): SBAS, LPV, or LNAV."},
	} {
		r := askOf(t, charted(t, plain, c.change), c.text)
		var says []string
		for _, s := range r.Stops {
			says = append(says, s.Text)
		}
		if got := strings.Join(says, " "); got != c.says || !strings.HasSuffix(r.Headline, ": "+c.headline) {
			t.Errorf("%s: got %q, %q, want %q, %q", c.text, r.Headline, got, c.headline, c.says)
		}
	}
}

// A stop names what is usable: every line of the chart that may still be flown, also
// where another was chosen, and no equipment that the crew says it has not. Where
// nothing is usable there is no call.
func TestStopNamesWhatIsUsable(t *testing.T) {
	const plain = "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	const cold = "Baro LNAV/VNAV NA below −28 (chart): "
	const remote = "Baro LNAV/VNAV NA with a remote altimeter source (as you say): "
	for _, c := range []struct {
		text, says, headline string
		call                 bool
	}{
		{"XKLD rnav 31 -38 lnav/vnav", cold + "SBAS, compensation, LPV, or LNAV.", "correct all segments", true},
		{"XKLD rnav 31 -38 lnav/vnav sbas no", cold + "compensation or LNAV.", "correct all segments", true},
		{"XKLD rnav 31 -38 sbas no compensated no", cold + "LNAV.", "correct all segments", true},
		{"XKLD rnav 31 -38 without lnav", cold + "SBAS, compensation, or LPV.", "correct all segments", true},
		{"XKLD rnav 31 -38 without lnav sbas no", cold + "compensation.", "no line of minimums is usable", false},
		{"XKLD rnav 31 -38 without lnav sbas no compensated no", cold + "not usable.", "no line of minimums is usable", false},
		{"XKLD -38 FAF 7400 LNAV/VNAV 5340 remote yes", remote + "SBAS.", "NA, remote altimeter source", false},
		{"XKLD -38 FAF 7400 LNAV/VNAV 5340 DA 5300 remote yes", remote + "SBAS.", "correct all segments", true},
		{"XKLD -38 FAF 7400 LNAV/VNAV 5340 LNAV 5460 remote yes", remote + "SBAS or LNAV.", "correct all segments", true},
	} {
		r := askOf(t, charted(t, plain, nil), c.text)
		if len(r.Stops) != 1 || r.Stops[0].Text != c.says || (r.Call != nil) != c.call || (len(r.Requests) > 0) != c.call || !strings.HasSuffix(r.Headline, ": "+c.headline) {
			t.Errorf("%s: got %+v, %q, call %v, want %q, %q, call %v", c.text, r.Stops, r.Headline, r.Call != nil, c.says, c.headline, c.call)
		}
	}
}

// A remote source and its additive are on the short answer, whichever line.
func TestRemoteIsSaid(t *testing.T) {
	const plain = "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	remote := func(a *approach.Approach) { a.Remote, a.RemoteAdditive = true, 80 }
	for text, want := range map[string]string{
		"XKLD rnav 31 -26 lpv": "Remote altimeter: chart's +80 ft added first.", "XKLD rnav 31 -26 sbas": "Remote altimeter: chart's +80 ft added first.",
	} {
		if r := askOf(t, charted(t, plain, remote), text); !strings.Contains(strings.Join(r.Notes, "\n"), want) {
			t.Errorf("%s: got %q, want %q", text, r.Notes, want)
		}
	}
	station := strings.Replace(plain, "restriction_c", "remote: true, restriction_c", 1)
	if r := askOf(t, charted(t, station, nil), "XKLD rnav 31 -26 lnav"); !strings.Contains(strings.Join(r.Notes, "\n"), "Remote altimeter: add the chart's additive first, none is stored.") {
		t.Errorf("got %q", r.Notes)
	}
	// Of altitudes without a label one may be a minimum; what was typed for it is
	// never lost without a word.
	for text, want := range map[string]string{
		"XKLD -26 7400 5460":             "Remote altimeter: to a minimum add the chart's additive first, none is stored.",
		"XKLD -26 7400 5460 additive 60": "Not used: additive 60, no altitude is labelled a minimum (DA, MDA).",
		"XKLD -26 FAF 7400 additive 60":  "Not used: additive 60, no altitude is labelled a minimum (DA, MDA).",
	} {
		if r := askOf(t, botOf(t, station), text); !slices.Contains(r.Notes, want) {
			t.Errorf("%s: got %q, want %q", text, r.Notes, want)
		}
	}
	if r := askOf(t, botOf(t, station), "XKLD -26 MDA 5460 additive 60"); strings.Contains(strings.Join(r.Notes, "\n"), "Not used") || rowOf(t, r, "MDA").CorrectedFt != 5460+60+130 {
		t.Errorf("got %q, %s", r.Notes, state(r))
	}
	if r := askOf(t, charted(t, plain, nil), "XKLD rnav 31 -26"); len(r.Notes) > 0 {
		t.Errorf("got %q where the source is the field's", r.Notes)
	}
}

// Step-downs of the final segment are of every line without a glidepath.
func TestStepsTellTheirLines(t *testing.T) {
	const plain = "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	for want, more := range map[string][]approach.Minimum{
		"LNAV only":          nil,
		"LNAV, circling":     {{Name: "circling", Role: procedure.Circling, Altitude: 5700}},
		"LNAV, LP, circling": {{Name: "LP", Role: procedure.MinimumDescent, Altitude: 5400}, {Name: "circling", Role: procedure.Circling, Altitude: 5700}},
	} {
		r := askOf(t, charted(t, plain, func(a *approach.Approach) { a.Minimums = append(a.Minimums, more...) }), "XKLD rnav 31 -26")
		if got := rowOf(t, r, "XUPEN").Mark; got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// A report of another day is asked about: no call is made of it, and nothing is
// requested; one that is merely old has its line on the screen. At 12:00Z on
// the 15th.
func TestPastedReportTooOld(t *testing.T) {
	for _, c := range []struct {
		report  string
		asks    string
		caution bool
	}{
		{"XKLD 151130Z 00000KT M38/M42 A2992", "", false},
		{"XKLD 151030Z 00000KT M38/M42 A2992", "", true},
		{"XKLD 150000Z 00000KT M38/M42 A2992", "", true},
		{"XKLD 142359Z 00000KT M38/M42 A2992", "The report is 12 h old: what is the temperature now?", false},
		{"XKLD 021200Z 00000KT M38/M42 A2992", "The report is 13 days old: what is the temperature now?", false},
		{"XKLD 151230Z 00000KT M38/M42 A2992", "", false},
		{"XKLD 151630Z 00000KT M38/M42 A2992", "The report is 30 days old: what is the temperature now?", false}, // the hour of last month
	} {
		r := askOf(t, newBot(t), c.report+"; FAF 7400 DA 5340 missed 10200")
		var stops []string
		for _, s := range r.Stops {
			stops = append(stops, s.Code+" "+s.Text)
		}
		got := strings.Join(stops, "; ")
		if c.asks == "" && got != "" || c.asks != "" && !strings.HasPrefix(got, "age "+c.asks) || (r.Call == nil) != (c.asks != "") || c.asks != "" && len(r.Requests) > 0 {
			t.Errorf("%s: got stops %q, call %+v, want %q", c.report, got, r.Call, c.asks)
		}
		if hasCaution(r, "old-report") != c.caution {
			t.Errorf("%s: got %+v", c.report, r.Cautions)
		}
	}
}

// An altitude without a label at a field of which some segments are listed: its
// row says that it depends on which it lies in, and nothing is asked for from it.
func TestUnlabelledOfSomeSegments(t *testing.T) {
	b := botOf(t, "stations: [{ident: XSLT, elevation_ft: 14, restriction_c: -12, segments: [final]}, {ident: XFRN, elevation_ft: 820, restriction_c: -22, segments: [initial, intermediate]}]\n")
	r := say(t, b, "XSLT -15 individual 2400 500")
	if a := r.Altitudes[0]; r.Call != nil || len(r.Requests) > 0 || a.State != "" || a.Required || a.CorrectedFt != 2690 || a.Mark != "if required" ||
		!strings.Contains(a.Why, "required where it lies in a listed segment: final") || !hasCaution(r, "label-them") {
		t.Errorf("got %+v, call %+v, cautions %+v", a, r.Call, r.Cautions)
	}
	r = say(t, b, "XFRN -25 individual 4200 1760") // before the final approach fix both are listed
	if r.Call == nil || r.Call.When != "if 4200 is before the final approach fix" || !strings.Contains(r.Call.Text, "Request 4800 ") {
		t.Errorf("got call %+v", r.Call)
	}
	if r = say(t, b, "XSLT -15 individual MDA 480"); hasCaution(r, "label-them") || r.Altitudes[0].State != reply.StateRequired {
		t.Errorf("got %+v, %+v", r.Altitudes, r.Cautions)
	}
}

// A tenth above the published temperature may be that temperature in a report,
// which has whole degrees: it is said, and the figures stand. AIM 7-3-5 b has the
// reported temperature.
func TestTenthAboveTheLine(t *testing.T) {
	b := botOf(t, "stations: [{ident: XRUN, elevation_ft: 4380, restriction_c: -10}, {ident: XDUL, elevation_ft: 45}]\n")
	for text, want := range map[string]bool{
		"XRUN -9.6 8200": true, "XRUN -9.5 8200": true, "XRUN -9.6": true, "XRUN -9.4 8200": false, "XRUN -9 8200": false,
		"XRUN -10 8200": false, "XRUN -9.6 8200 strict": false, "XRUN -9.6 8200 icao": false, "XDUL -9.6 8200": false,
	} {
		if r := askOf(t, b, text); hasCaution(r, "whole-degree") != want || want && r.Required != reply.No {
			t.Errorf("%s: required %v, %+v, want it said: %v", text, r.Required, r.Cautions, want)
		}
	}
}

func hasCaution(r reply.Reply, code reply.CautionCode) bool {
	for _, c := range r.Cautions {
		if c.Code == code {
			return true
		}
	}
	return false
}

// The final approach fix is no way in, and is called what it is.
func TestInsideTheFinalFix(t *testing.T) {
	const plain = "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	r := askOf(t, charted(t, plain, nil), "XKLD rnav 31 -38 vectors inside XIRTU")
	if want := "XIRTU is the final approach fix: nobody comes in by or inside it; the ways in are XADLO, XEMBA."; r.Problem == nil || r.Problem.Text != want {
		t.Errorf("got %+v, want %s", r.Problem, want)
	}
}

// An intermediate fix that is only lifted makes no initial segment to correct:
// 7600 at XOLMI is flown at the 7400 and 600 ft of XIRTU.
func TestHeadlineOfLifted(t *testing.T) {
	const listed = "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25, segments: [intermediate, final]}]\n"
	lower := func(a *approach.Approach) { a.Legs[2].Altitude = 7600 }
	r := askOf(t, charted(t, listed, lower), "XKLD rnav 31 -38 faa-individual-segments lnav")
	if !strings.HasSuffix(r.Headline, ": correct intermediate, final") || strings.Contains(r.Call.Text, "XOLMI") || rowOf(t, r, "XOLMI").CorrectedFt != 8000 {
		t.Errorf("got %q, %+v, %+v", r.Headline, r.Call, rowOf(t, r, "XOLMI"))
	}
}

// TestHeadlineOfSome: the headline is the rule set's at this temperature and
// station, also where what was typed lies in no segment that is asked for, or in
// some of them. It never says that no correction is required where one is.
func TestHeadlineOfSome(t *testing.T) {
	const some = `
stations:
  - {ident: XSLT, elevation_ft: 14, restriction_c: -12, segments: [final], mountainous: false}
  - {ident: XRUN, elevation_ft: 4380, restriction_c: -20, segments: [intermediate, final]}
`
	for _, c := range []struct {
		text, headline, fact string
		required             reply.OptBool
	}{
		{"XSLT -15 individual FAF 1700", "none of these; correct final", "None of these altitudes; final: at or below the published restriction temperature, in a listed segment, −12 °C.", reply.No},
		{"XRUN -25 individual IAF 9000 missed 9000", "none of these; correct intermediate, final", "None of these altitudes; intermediate, final: ", reply.No},
		{"XSLT -11 individual FAF 1700", "no correction required", "No correction is required at this temperature", reply.No},
		{"XSLT -15 individual FAF 1700 DA 480", "correct final", "Correction required: ", reply.Yes},
		{"XRUN -25 individual DA 4580", "correct intermediate, final", "Correction required: ", reply.Yes},
		{"XSLT -15 DA 480", "correct all segments", "Correction required: ", reply.Yes},
		{"XRUN -25 individual 9000 4580", "correct intermediate, final", "Correction required: at or below", reply.Yes},
		{"XRUN -25 individual FAF 6400, 4700", "correct intermediate, final", "Correction required: ", reply.Yes},
		{"XRUN -19 individual 9000 4580", "no correction required", "No correction is required at this temperature", reply.No},
		{"XSLT -5 strict MDA 480", "correct final, unverified rules", "Correction required: at or below 0 °C, final segment.", reply.Yes},
		{"XSLT -5 strict FAF 1700", "none of these; correct final, unverified rules", "None of these altitudes; final: at or below 0 °C, final segment.", reply.No},
	} {
		r := say(t, botOf(t, some), c.text)
		if !strings.HasSuffix(r.Headline, ": "+c.headline) || r.Required != c.required || !strings.Contains(strings.Join(r.Facts, " "), c.fact) {
			t.Errorf("%s: %q, required %v, %q", c.text, r.Headline, r.Required, r.Facts)
		}
	}
}
