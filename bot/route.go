package bot

import (
	"context"
	"fmt"
	"math"
	"slices"

	"firn/bot/airports"
	"firn/bot/parse"
	"firn/bot/reply"
	"firn/engine"
	"firn/engine/atmosphere"
	"firn/engine/correction"
)

// ahead answers the verbs of planning.
func (b *Bot) ahead(ctx context.Context, req parse.Request, m Message) (r reply.Reply, err error) {
	var problem *parse.Problem
	var visits []visit
	switch {
	case req.Verb == parse.Route:
		r, problem, err = b.route(ctx, req, m)
	case b.ports.Forecasts == nil:
		return b.ask(notHere(req.Verb)), nil
	default:
		r, visits, problem, err = b.brief(ctx, req, m.At)
	}
	switch {
	case err != nil:
		return reply.Reply{}, fmt.Errorf("%s: %w", req.Verb, err)
	case problem != nil && req.Verb == parse.Brief:
		return b.question(ctx, threadKey{m.Surface, m.Thread}, &req, problem, m, false), nil
	case problem != nil:
		return b.ask(problem), nil
	}
	if req.Verb == parse.Route {
		b.threads.lookedAhead(threadKey{m.Surface, m.Thread}, req, m.At)
	}
	if req.Verb == parse.Brief {
		for _, line := range req.Without {
			req.NotUsed = append(slices.Clone(req.NotUsed), "without "+line)
		}
		if len(req.NotUsed) > 0 {
			r.Notes = append(r.Notes, parse.Unused(req.NotUsed))
		}
		b.threads.briefed(threadKey{m.Surface, m.Thread}, req.Stops, m.At)
		r = b.keepBrief(ctx, m, r, visits, nil)
	}
	return r, nil
}

// coldLayer is how much colder than standard the strict rule begins to look at
// altitudes over mountains (AFMAN 11-202V3, from memory, low confidence).
const coldLayer engine.CelsiusDelta = -10

// route corrects a minimum altitude on the way: the temperature is that of the
// nearest altimeter setting source (ICAO Doc 8168 Vol III, from memory), the
// height the one above it.
func (b *Bot) route(ctx context.Context, req parse.Request, m Message) (reply.Reply, *parse.Problem, error) {
	scene := reply.Scene{Set: b.set(req.Rules), Outside: b.outside}
	if len(req.Altitudes) != 1 {
		return reply.Reply{}, &parse.Problem{Word: "route", Text: parse.RouteNeeds, Try: parse.RouteExample}, nil
	}
	station, problem := b.field(&req, &scene)
	if problem == nil {
		problem = b.temperature(ctx, &req, m.At, &scene)
	}
	if problem != nil {
		problem.Try = ""
		return reply.Reply{}, problem, nil
	}
	minimum := engine.Altitude(req.Altitudes[0].Feet())
	if req.Altitudes[0].Height || minimum <= scene.Source {
		return reply.Reply{}, &parse.Problem{Word: req.Altitudes[0].Name(), Text: fmt.Sprintf("%s is not an altitude above the altimeter setting source at %.0f ft.", req.Altitudes[0].Name(), float64(scene.Source)), Try: parse.RouteExample}, nil
	}
	air := correction.Air{Temperature: scene.Temperature.C, Source: scene.Source}
	need := correction.EnRoute(minimum, air)
	layer := air.Temperature.Sub(atmosphere.StandardTemperature(scene.Source)) // how far from standard
	out := reply.OnRoute{
		MinimumFt:  float64(minimum),
		HeightFt:   float64(minimum.Above(scene.Source)),
		DeviationC: reply.Some(math.Round(float64(layer)*10) / 10),
		TrueFt:     math.Floor(float64(atmosphere.Air(air).TrueAltitude(minimum))),
	}
	if req.HasOutside {
		outside := req.Outside.ColderTenth()
		need = max(need, correction.EnRouteByOutside(minimum, scene.Source, outside))
		layer = outside.Sub(atmosphere.StandardTemperature(minimum))
		at := atmosphere.TrueAltitudeFromOutside(minimum, scene.Source, atmosphere.SeaLevelPressure, outside)
		out.OutsideC, out.TrueByOutsideFt = reply.Some(float64(outside)), reply.Some(math.Floor(float64(at)))
	}
	out.CorrectionFt = engine.UpToFoot(float64(need))
	out.CorrectedFt = math.Ceil(float64(minimum.Add(need))/100-1e-9) * 100
	mountains := station == nil || station.Mountains()
	out.Strict = mountains && layer < coldLayer
	r := reply.Route(scene, out, mountains)
	if station == nil || station.Mountainous == airports.NotKnown {
		r.Facts = append(r.Facts, "Whether it is over mountains is not known: it is taken to be.")
	}
	r.Facts = append(r.Facts, listFacts(station)...)
	return r, nil, nil
}
