package page

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"firn/bot"
	"firn/bot/approach"
	"firn/bot/chat"
	"firn/bot/reply"
	"firn/engine/procedure"
)

// procLine is a procedure in a list.
type procLine struct {
	Ident, Name, Source, Until string
	Standing                   string // not to be used; empty: it may be
}

// procStation is a station with its procedures.
type procStation struct {
	Ident, Name string
	Lines       []procLine
	None        string
}

// proceduresView is the list.
type proceduresView struct {
	Station  string
	Stations []bot.Offer
	Groups   []procStation
	More     bool // there are more stations than are listed
}

// listedStations is how many stations are gone through for one page.
const listedStations = 40

// procLines are a station's procedures, or why there are none: an
// error where that is not known, which is logged.
func (r *request) procLines(ident string) (out []procLine, none string, err error) {
	if r.p.o.Procedures == nil {
		return nil, "No procedures are stored here.", nil
	}
	all, err := r.p.o.Procedures.Procedures(r.Context(), ident)
	if err != nil {
		r.p.log.ErrorContext(r.Context(), "procedures not read", "base", ident, "err", err)
		return nil, "firn cannot read the procedures; it is logged.", err
	}
	for i := range all {
		a := &all[i]
		l := procLine{Ident: clean(a.Ident), Name: clean(a.Name), Source: clean(a.Source), Standing: r.standing(a)}
		if !a.End.IsZero() {
			l.Until = a.End.UTC().Format("2 Jan 2006")
		}
		out = append(out, l)
	}
	if len(out) == 0 {
		none = "No procedures are stored."
	}
	return out, none, nil
}

// usualLines are a station's usual procedures, and apart from them the others;
// where none are usual all are others.
func (r *request) usualLines(ident string) (usual, others []procLine, none string) {
	others, none, _ = r.procLines(ident)
	i := slices.IndexFunc(r.p.o.Stations, func(s Station) bool { return s.Ident == ident })
	if i < 0 || len(r.p.o.Stations[i].Usual) == 0 || len(others) == 0 {
		return nil, others, none
	}
	all, err := r.p.o.Procedures.Procedures(r.Context(), ident)
	if err != nil {
		return nil, others, none // which procLines has logged
	}
	for _, said := range r.p.o.Stations[i].Usual {
		a, one := approach.Find(all, said).One()
		if !one {
			continue // the watch and the doctor say so
		}
		if at := slices.IndexFunc(others, func(l procLine) bool { return l.Name == clean(a.Name) }); at >= 0 {
			usual, others = append(usual, others[at]), slices.Delete(others, at, at+1)
		}
	}
	return usual, others, none
}

// standing says why a procedure is not to be used.
func (r *request) standing(a *approach.Approach) string {
	switch a.At(r.p.o.Now()) {
	case approach.Expired:
		return "ended on " + a.End.UTC().Format("2 Jan 2006") + ": get the current edition"
	case approach.NotYet:
		return "begins on " + a.Effective.UTC().Format("2 Jan 2006")
	}
	return ""
}

// proceduresPage lists the stored procedures.
func (p *Page) proceduresPage(r *request) {
	v := proceduresView{Station: strings.ToUpper(strings.TrimSpace(clean(r.FormValue("station")))), Stations: p.choices("", mostChoices)}
	stations := p.o.Stations
	if v.Station != "" {
		stations = []Station{{Ident: v.Station, Name: p.name(v.Station)}}
	}
	for _, s := range stations {
		if len(v.Groups) == listedStations {
			v.More = true
			break
		}
		g := procStation{Ident: clean(s.Ident), Name: clean(s.Name)}
		var unread error
		g.Lines, g.None, unread = r.procLines(s.Ident)
		if len(g.Lines) > 0 || v.Station != "" || unread != nil {
			v.Groups = append(v.Groups, g)
		}
	}
	r.show("procedures", frame{Title: "Procedures", Nav: "procedures"}, v)
}

// procedureMain is one procedure.
type procedureMain struct {
	Ident, Station, Name    string
	Source, Cycle, Until    string
	Standing                string
	Path, Limits            string
	Gaps                    []string
	Rows                    []procRow
	Temperature             string
	Seen                    *cardView // how it looks at that temperature
	Line                    string    // asks the same, to be kept
	CanAsk                  bool
	CSRF, Deed, Wrong, Back string
}

// procRow is a published altitude.
type procRow struct {
	Name, Segment, Meaning, Altitude, Upper string
}

// aTemperature is what the field of a procedure takes.
func aTemperature(typed string) (float64, bool) {
	s := strings.NewReplacer("−", "-", ",", ".").Replace(strings.TrimSpace(typed))
	if s != "" && (s[0] == 'm' || s[0] == 'M') {
		s = "-" + s[1:]
	}
	if s == "" || s != "0" && s[0] != '-' && s[0] != '+' {
		return 0, false // without a sign it is a question, here as everywhere
	}
	c, err := strconv.ParseFloat(s, 64)
	return c, err == nil && c >= -90 && c <= 60
}

// procedurePage shows a stored procedure as published, and how it looks at a
// temperature.
func (p *Page) procedurePage(r *request) {
	ident, name := r.FormValue("station"), r.FormValue("name")
	if p.o.Procedures == nil {
		r.plain(http.StatusNotFound, "No procedures", "No procedures are stored here.")
		return
	}
	all, err := p.o.Procedures.Procedures(r.Context(), ident)
	if err != nil {
		r.failed("the procedures", err)
		return
	}
	i := slices.IndexFunc(all, func(a approach.Approach) bool { return strings.EqualFold(a.Name, name) })
	if i < 0 {
		r.missing("No such procedure", "No stored procedure has this name.", "To the procedures", "/procedures")
		return
	}
	a := &all[i]
	v := procedureMain{
		Ident: clean(a.Ident), Station: clean(p.name(a.Ident)), Name: clean(a.Name), Source: clean(a.Source), Cycle: clean(a.Cycle),
		Standing: r.standing(a), CanAsk: r.canAsk(), CSRF: r.who.csrfToken(), Deed: newID(), Back: "/",
	}
	if !a.End.IsZero() {
		v.Until = a.End.UTC().Format("2 Jan 2006")
	}
	if a.HasAngle {
		v.Path = fmt.Sprintf("%.2f°", float64(a.VerticalAngle))
	}
	if a.Baro.HasLow {
		v.Limits = reply.Celsius(a.Baro.Low)
	}
	for _, g := range a.Gaps() {
		if g = clean(g); g != "" {
			v.Gaps = append(v.Gaps, strings.ToUpper(g[:1])+g[1:]+".")
		}
	}
	points := a.Points()
	parted := procedure.Parted(points)
	for i, q := range points {
		row := procRow{Name: clean(pointName(q, parted[i])), Segment: q.Segment.String(), Altitude: published(float64(q.Altitude))}
		if q.Meaning != procedure.At {
			row.Meaning = strings.ReplaceAll(q.Meaning.String(), "-", " ")
		}
		if q.Meaning == procedure.Between {
			row.Upper = published(float64(q.Upper))
		}
		v.Rows = append(v.Rows, row)
	}
	r.lookAt(a, &v)
	r.show("procedure", frame{Title: v.Ident + " " + v.Name, Nav: "procedures"}, v)
}

// pointName is what a point is called; parted: another way in does not lead
// over it, and the page has room for all that do.
func pointName(q procedure.Point, parted bool) string {
	name := q.FullName()
	if parted && (q.Role != procedure.InitialFix || q.From != q.Fix) {
		name += " via " + strings.Join(q.Ways(), ", ")
	}
	return name
}

// lookAt works the procedure out at the temperature that the address names,
// else at the latest observation, which the answer then names with its source
// and age; where there is none nothing is worked out. Nothing is kept.
func (r *request) lookAt(a *approach.Approach, v *procedureMain) {
	p := r.p
	line := a.Ident + " " + a.Name
	if v.Temperature = clean(r.FormValue("t")); v.Temperature != "" {
		c, ok := aTemperature(v.Temperature)
		if !ok {
			v.Wrong = "Give the temperature with its sign, such as -38."
			return
		}
		line += " " + published(c)
	}
	if p.o.Preview == nil {
		return
	}
	seen, err := p.o.Preview(r.Context(), line)
	if err != nil {
		p.log.WarnContext(r.Context(), "procedure not looked at", "base", a.Ident, "err", err)
		return
	}
	if v.Temperature == "" && (seen.Problem != nil || !seen.TemperatureC.OK) {
		return // nothing is observed: the field is empty
	}
	card := r.view(cleanMessage(chat.Message{Reply: seen}))
	card.Buttons, card.More, card.Closed, card.Page, card.ID = nil, nil, true, true, "seen"
	card.Profile = r.profile(seen)
	v.Seen, v.Line = &card, line
}
