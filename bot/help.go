package bot

import (
	"fmt"
	"slices"
	"strings"

	"firn/bot/parse"
	"firn/bot/reply"
	"firn/engine/correction"
	"firn/engine/ruleset"
)

// help shows what can be asked, by example; a dot stands between two, and in
// parentheses what they are.
func (b *Bot) help() reply.Reply {
	r := b.shortHelp()
	ask := &r.Sections[0]
	if b.ports.Observer != nil {
		ask.Lines = append(ask.Lines, "XKLD (is one asked for now, by the latest observation?)")
	}
	if b.ports.Procedures != nil {
		ask.Lines = append(ask.Lines, "XKLD rnav 31 -38 (a stored procedure)")
	}
	plan := reply.Section{Title: "Plan"}
	if b.ports.Forecasts != nil {
		plan.Lines = append(plan.Lines, "brief XKLD 1430 XRUN 1515 (arrivals in UTC, by forecast)")
	}
	plan.Lines = append(plan.Lines, "route min 11600 XKLD -25 (a minimum altitude on the way)")
	if b.ports.Watcher != nil && len(b.stations.Watched()) > 0 {
		plan.Lines = append(plan.Lines, "watch (every base's state now)")
	}
	if b.ports.Observations != nil {
		plan.Lines = append(plan.Lines, "ack XKLD · snooze XKLD 2h · obs XKLD -38 (duty officers)")
		if b.ports.Bases != nil {
			plan.Lines = append(plan.Lines, "base add XKLD 06:00 · base drop XKLD (duty officers: a base that the configuration does not watch)")
		}
	}
	r.Sections = slices.Insert(r.Sections, 1, plan)
	return r
}

// shortHelp is what holds without any port.
func (b *Bot) shortHelp() reply.Reply {
	r := reply.Reply{
		Kind: reply.KindHelp,
		Facts: []string{
			"Type a station, the temperature with its sign, and the altitudes, in any order.",
		},
		Sections: []reply.Section{
			{Title: "Ask", Lines: []string{
				"XKLD -38 8200 7400 5340",
				"xkld m38 FAF 8200, step 7400, DA 5340, missed 10200",
				"-38 elev 4802: 8200/7400/5340",
				"XKLD -36F 2500m, 560 ft agl",
				"XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992; 8200 7400 (a pasted report)",
				"XKLD -38 (is a correction asked for?)",
			}},
			{Title: "Labels", Lines: []string{
				"IAF, IF, FAF, step, procedure turn, hold, DA, MDA, circling, missed, MSA, TAA",
				"Before or after the altitude; a fix name may stand beside one.",
			}},
			{Title: "Go on from an answer", Lines: []string{
				"-41 (colder)",
				"add DA 5340 · remove 7400 · same at XRUN",
				"why (the working, with sources)",
				"icao (the same under another rule set)",
			}},
			{Title: "Look up", Lines: []string{
				"stations near XKLD · stations cold -25 within 200 NM of XKLD · stations kald",
				"rules · rules canada (the rule sets, one of them)",
				"help",
			}},
		},
		Source: reply.Aid,
	}
	if b.ports.Book != nil {
		r.Sections = slices.Insert(r.Sections, len(r.Sections)-1, reply.Section{Title: "Check together", Lines: []string{
			"check · check KALOMI-RUTA (the result here, the one of that name)",
			"check KALOMI-RUTA 8990 8000 5470 (with the altitudes from your own table)",
			"post · post KALOMI-RUTA (to the team channel; a check there counts as here)",
			"withdraw KALOMI-RUTA (your check)",
			"recompute KALOMI-RUTA (with the latest temperature)",
			"log · log XKLD today · log unchecked · log KALOMI-RUTA",
			"mine (what waits for your check, what of yours is out of date, the cold bases)",
		}})
	}
	if b.ports.Pictures {
		r.Sections = slices.Insert(r.Sections, len(r.Sections)-1, reply.Section{Title: "Draw and print", Lines: []string{
			"picture · picture curve · picture XKLD -38 FAF 8200, DA 5340 (the answer here or another, in profile or over the temperature)",
			"picture day XKLD (a watched base's forecast against its restriction temperature)",
			"card · card KALOMI-RUTA · card XKLD rnav 31 -38 (one page for the kneeboard, PDF and PNG)",
			"card letter · card KALOMI-RUTA letter (on half-letter paper; else it is A5)",
		}})
	}
	return r
}

// describeRules lists the rule sets, or shows one.
func (b *Bot) describeRules(req parse.Request) reply.Reply {
	r := reply.Reply{Kind: reply.KindRules, Rules: b.rules.ID, RulesVersion: b.rules.Version}
	if req.Rules != "" {
		s := b.byID[req.Rules]
		r.Rules, r.RulesVersion, r.Unverified = s.ID, s.Version, s.Unverified
		r.Sections = b.ruleSections(s)
		return r
	}
	r.Facts = []string{fmt.Sprintf("In force here: %s (%s).", b.rules.Name, b.rules.ID)}
	for _, s := range b.sets {
		lines := []string{s.Summary}
		if s.Unverified != "" {
			lines = append(lines, "Unverified: "+s.Unverified)
		}
		r.Sections = append(r.Sections, reply.Section{Title: fmt.Sprintf("%s: %s", s.ID, s.Name), Lines: lines})
	}
	r.Actions = []reply.Action{{ID: "rules", Label: "Show one", Message: "rules " + b.rules.ID}}
	return r
}

func (b *Bot) ruleSections(s *ruleset.Set) []reply.Section {
	var when []string
	for _, q := range s.Require {
		when = append(when, fmt.Sprintf("%s: %s (%s)", strings.Join(q.Altitudes, ", "), q.Why, q.Source))
	}
	outside := s.Round.Outside.Describe()
	if b.outside != "" {
		outside = b.outside.Describe() + " (configured here)"
	}
	text, source := correction.Method(s.Method).Describe()
	above := "above 5000 ft the last column is used, as published"
	if s.AboveTable == "accurate" {
		above = "above 5000 ft the accurate equation"
	}
	out := []reply.Section{
		{Title: fmt.Sprintf("%s: %s, version %s", s.ID, s.Name, s.Version), Lines: []string{s.Summary}},
		{Title: "A correction is asked for on", Lines: when},
		{Title: "Reference altitude", Lines: []string{
			fmt.Sprintf("initial: %s; intermediate: %s; final: %s; missed approach: own", s.Reference.Initial, s.Reference.Intermediate, s.Reference.Final),
		}},
		{Title: "Amount", Lines: []string{
			fmt.Sprintf("%s (%s); %s", text, source, above),
			fmt.Sprintf("outside the final segment %s; in it %s", outside, s.Round.Final.Describe()),
		}},
		{Title: "Air traffic control is told of", Lines: []string{strings.Join(s.Report, ", ")}},
		{Title: "Sources", Lines: s.Sources},
	}
	if s.Unverified != "" {
		out = append(out, reply.Section{Title: "Unverified", Lines: []string{s.Unverified}})
	}
	return out
}
