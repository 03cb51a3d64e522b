package present

import (
	"slices"
	"strings"

	"firn/bot/reply"
)

// correction is headline, stops, table, call, what belongs to this answer
// alone, the standing line and the state.
func correction(r reply.Reply) Document {
	var d Document
	d.add(Headline{Text: headline(r), Tone: tone(r)})
	for _, s := range r.Stops {
		d.add(Stop{s.Text})
	}
	d.lines(r.Notes)
	if s := r.TemperatureSource; s != "" && !strings.HasPrefix(s, "as typed") {
		d.add(Line{reply.Celsius(r.TemperatureC.Value) + ": " + s + "."})
	}
	over := holdsNoMore(r.Record)
	if len(r.Altitudes) > 0 {
		t := tableOf(r.Altitudes, r.Compensated)
		if over {
			t.Title = "Old figures, not to be flown"
		}
		d.add(t)
	}
	asked := working(r.Working) // it is there where it was asked for
	if c := r.Call; c != nil && len(asked) == 0 && !over {
		d.add(Call{Title: callTitle(c), Text: c.Text, Spoken: c.Spoken})
	}
	d.add(asked...)
	for _, c := range r.Cautions {
		if !c.Standing && onScreen(c.Code) && !(c.Code == reply.CautionOldReport && stopped(r, reply.StopAge)) {
			d.add(Line{c.Text})
		}
	}
	if r.TemperatureC.OK && len(r.Altitudes) > 0 && !over {
		d.add(Small{standing(r)})
	}
	d.state(r.Record)
	record := d.More
	d.More = nil
	if !over { // nobody is to say it any more
		d.fold("calls", "Radio calls", calls(r))
	}
	d.fold("cautions", "Cautions", cautions(r.Cautions))
	d.fold("details", "Where it is from", details(r))
	d.More = append(d.More, record...)
	return d
}

// status is the verdict on a field: its headline, the observation, the rule.
func status(r reply.Reply) Document {
	d := correction(r)
	if len(r.Facts) > 1 {
		i := slices.IndexFunc(d.Short, func(b Block) bool { _, ok := b.(State); return ok })
		if i < 0 {
			i = len(d.Short)
		}
		d.Short = slices.Insert(d.Short, i, Block(Line{r.Facts[1]}))
	}
	return d
}

// headline is the reply's own; one that was stored without is made of its
// fields.
func headline(r reply.Reply) string {
	if r.Headline != "" {
		return r.Headline
	}
	verdict := "required or not: not known"
	switch r.Required {
	case reply.Yes:
		verdict = "correction required"
	case reply.No:
		verdict = "no correction required"
	}
	return r.Where() + ", " + reply.Celsius(r.TemperatureC.Value) + ": " + verdict
}

func tone(r reply.Reply) Tone {
	switch r.Required {
	case reply.Yes:
		return Act
	case reply.No:
		return Calm
	}
	return Unsure
}

// callTitle says when the call is made.
func callTitle(c *reply.Call) string {
	switch {
	case c.When != "" && c.Way == "traffic":
		return "Say to traffic " + c.When
	case c.When != "":
		return "Say " + c.When
	case c.Way == "traffic":
		return "Say to traffic"
	}
	return "Say on check-in"
}

// behind are the cautions of an answer that wait under More: the headline, a
// stop or a mark of a row says on the screen what they explain.
var behind = []reply.CautionCode{reply.CautionUnverified, reply.CautionRemote, reply.CautionBelowPublished, reply.CautionAboveTable}

func onScreen(code reply.CautionCode) bool { return !slices.Contains(behind, code) }

// standing is the one line of cautions that every answer has.
func standing(r reply.Reply) string {
	return "For " + reply.Celsius(r.TemperatureC.Value) + " only. Fly assigned altitudes as assigned, altimeter as set; visibility stays. Publications and the pilot in command decide."
}

// calls are every sentence for the radio, in figures and as spoken.
func calls(r reply.Reply) []Block {
	var list []reply.Request
	if c := r.Call; c != nil {
		when := c.When
		if when == "" {
			when = strings.ToLower(strings.TrimPrefix(callTitle(c), "Say "))
		}
		list = append(list, reply.Request{When: when, Text: c.Text, Spoken: c.Spoken, Source: c.Source})
	}
	if list = append(list, r.Requests...); len(list) == 0 {
		return nil
	}
	return []Block{Phrases{Title: "Radio calls", List: list}}
}

// workingFor begins the title of an altitude's working.
const workingFor = "Working for "

func working(all []reply.Working) []Block {
	out := make([]Block, 0, len(all))
	for i := range all {
		w := &all[i]
		title := strings.TrimSpace(w.Name+" "+exact(w.PublishedFt)) + " ft"
		out = append(out, Steps{Title: workingFor + title, Steps: w.Steps, Methods: w.Methods})
	}
	return out
}

// details are the facts behind the headline, and how each altitude came about.
func details(r reply.Reply) []Block {
	var out []Block
	if len(r.Facts) > 0 {
		out = append(out, List{Title: "Where it is from", Lines: r.Facts})
	}
	var rows []string
	for i := range r.Altitudes {
		a := &r.Altitudes[i]
		text := strings.TrimSpace(nameOf(a)+" "+published(a)) + ": "
		if a.NoAltitude {
			rows = append(rows, strings.TrimSpace(nameOf(a))+": "+a.Why)
			continue
		}
		text += reply.WholeUp(a.HeightFt) + " ft up, add " + reply.WholeUp(a.CorrectionFt) + "; " + a.Why
		if a.TrueUncorrectedFt > 0 {
			text += "; uncorrected really at " + reply.WholeDown(a.TrueUncorrectedFt) + ", as corrected at " + reply.WholeDown(a.TrueCorrectedFt)
		}
		rows = append(rows, text+".")
	}
	if len(rows) > 0 {
		out = append(out, List{Title: "Each altitude", Lines: rows})
	}
	return append(out, small(r.Source)...)
}

// stopped says that a stop of this code stands above the table.
func stopped(r reply.Reply, code string) bool {
	return slices.ContainsFunc(r.Stops, func(s reply.Stop) bool { return s.Code == code })
}
