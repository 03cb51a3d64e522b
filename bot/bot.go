package bot

import (
	"cmp"
	"context"
	"fmt"
	"log/slog"
	"math"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"firn/bot/config"
	"firn/bot/parse"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/engine"
	"firn/engine/ruleset"
)

// Message is what somebody wrote, as every surface hands it in.
type Message struct {
	Surface      string // console, ...
	Thread       string // where follow-ups belong; empty: none can come
	User         string // as the record shows it
	Person       string // the account, slack:U1, in the linked ones of the configuration; empty: no accounts
	Via          string // tells the browser apart, where the surface takes whatever name is typed; else empty
	Card         string // the surface's name of the card that the answer takes the place of; empty: it is a new one
	Coming       string // the surface's name of the card that the answer will have, where that is known before and Card is empty
	Channel      string // its address, slack:C01; empty where there is none
	Direct       bool   // nobody but the person and the bot reads it
	Own          bool   // what is asked is the person's own until it is posted
	Aside        bool   // the answer is shown to the person alone, of what stands there: it is not kept, and nothing follows it
	Heard        bool   // said where the bot takes part, and not to it: answered only where it reads whole, else forgotten
	ConfirmFirst bool   // the figures that it is about may be a screen away: a check asks with them first
	Duty         bool   // the person may do what duty officers do: acknowledge, set an observation
	ID           string // the surface's own; a repeated delivery has the same
	Text         string
	At           time.Time // when it came
}

// Bot answers messages. Safe for use by several goroutines.
type Bot struct {
	log      *slog.Logger
	stations *config.Config
	sets     []*ruleset.Set
	byID     map[string]*ruleset.Set
	rules    *ruleset.Set // in force where a message names none
	outside  ruleset.Step // the configured rounding outside the final segment
	reader   *parse.Reader
	threads  *threads
	example  string // a line to type, when there is nothing better to show
	briefing string // a brief to type
	ports    Ports
	asked    atomic.Int64 // names answers whose message has no id
}

// New makes a bot for a checked configuration. sets are the rule sets that
// may answer; the configuration's own choice must be among them.
func New(log *slog.Logger, cfg *config.Config, sets []*ruleset.Set) (*Bot, error) {
	b := &Bot{
		log:      log,
		stations: cfg,
		sets:     sets,
		byID:     make(map[string]*ruleset.Set, len(sets)),
		outside:  ruleset.Step(cfg.Round),
		threads:  newThreads(),
		example:  exampleFor(cfg),
		briefing: briefExample(cfg),
	}
	ids := make([]string, 0, len(sets))
	for _, s := range sets {
		if b.byID[s.ID] != nil {
			return nil, fmt.Errorf("rule set %s is given twice", s.ID)
		}
		b.byID[s.ID] = s
		ids = append(ids, s.ID)
	}
	id := cmp.Or(cfg.Rules, DefaultRules)
	if b.rules = b.byID[id]; b.rules == nil {
		return nil, fmt.Errorf("rule set %s is not known", id)
	}
	b.reader = parse.NewReader(places{cfg}, ids)
	b.reader.Named(record.ReadName)
	b.reader.Fixes(b.knownFix)
	b.reader.Elevations(b.elevationOf)
	b.reader.Roles(b.fixRole)
	b.reader.Lines(b.withLine)
	return b, nil
}

// DefaultRules answers where the configuration names no rule set.
const DefaultRules = "faa-all-segments"

// Rules is the rule set in force where a message names none.
func (b *Bot) Rules() *ruleset.Set { return b.rules }

// set is the rule set that a message names, else the one in force.
func (b *Bot) set(id string) *ruleset.Set {
	if id == "" {
		return b.rules
	}
	return b.byID[id]
}

// Handle answers one message. A message that needs fixing is answered too:
// the error is for what the crew can do nothing about.
func (b *Bot) Handle(ctx context.Context, m Message) (reply.Reply, error) {
	if err := ctx.Err(); err != nil {
		return reply.Reply{}, err
	}
	req, problem := b.reader.Read(m.Text)
	if req.Verb == parse.Card && problem == nil && req.Empty() {
		return b.printed(ctx, *req, m)
	}
	if m.Aside {
		m.Thread = "" // it is not remembered either
	}
	key := threadKey{m.Surface, m.Thread}
	defer b.share(ctx, key)()
	if m.Heard = m.Heard && !b.deedThere(key, req, problem, m); m.Heard {
		if problem == nil && len(req.NotUsed) > 0 {
			return note(), nil
		}
		was, had := b.threads.get(key, m.At)
		r, err := b.replyTo(ctx, key, req, problem, m)
		return b.heardOnly(key, was, had, r), err
	}
	return b.replyTo(ctx, key, req, problem, m)
}

// replyTo answers a message that was read.
func (b *Bot) replyTo(ctx context.Context, key threadKey, req *parse.Request, problem *parse.Problem, m Message) (reply.Reply, error) {
	var th thread
	has := false
	if m.Thread != "" {
		th, has = b.threads.get(key, m.At)
	}
	read := understood{req: req, problem: problem}
	if has && problem == nil {
		read.alone = req
	}
	if !th.question.Asked {
		return b.inThreadOf(ctx, key, &th, has, read, m)
	}
	was := th.question
	r, err := b.inThreadOf(ctx, key, &th, has, read, m)
	return b.askedAgain(key, was, r), err
}

// inThreadOf answers a message that was read with what its thread has.
func (b *Bot) inThreadOf(ctx context.Context, key threadKey, th *thread, has bool, read understood, m Message) (reply.Reply, error) {
	req, problem := read.req, read.problem
	if has {
		req, problem = b.ordinary(th, req, problem, m.Text)
		req, problem = b.atHome(th, req, problem, m.Text)
	}
	if has && (problem == nil || problem.Unread) {
		if p := b.readBack(th, req, m.Text); p != nil {
			return b.question(ctx, key, req, p, m, false), nil
		}
	}
	said, r, done, err := b.understand(ctx, th, req, problem, m)
	if done || err != nil {
		return r, err
	}
	if req, problem = said.req, said.problem; said.text != "" {
		m.Text = said.text
	}
	if has {
		req, problem = b.inThread(th, req, problem)
	}
	if q := &th.question; problem != nil && problem.Unread && req.Empty() && q.Asked && len(q.Choices) > 0 {
		return q.again(problem.Text + " " + q.Text), nil
	}
	if has && problem == nil {
		if stops, ok := rebrief(th.arrivals, req); ok && (!th.question.Asked || len(th.question.Scrap.Altitudes) == 0) {
			return b.do(ctx, &parse.Request{Verb: parse.Brief, Stops: stops}, nil, m, follow{key: key})
		}
		if req, problem = arriving(th, req); problem != nil {
			return b.question(ctx, key, req, problem, m, false), nil
		}
	}
	said.req, said.problem, said.alone = req, problem, read.alone
	return b.inContext(ctx, key, th, has, said, m)
}

// inContext answers what a message says with what its thread has, where it follows
// that up.
func (b *Bot) inContext(ctx context.Context, key threadKey, th *thread, has bool, said understood, m Message) (reply.Reply, error) {
	req, problem := said.req, said.problem
	earlier, answered := th.question.base(req, &th.request, th.answered)
	var asked *parse.Request  // what follows up the request before it; nil: nothing does
	stuck := false            // what was asked before waits for the next try
	var before *record.Result // whose next version the answer is
	if has && problem != nil && slip(earlier, req, answered) {
		// Nothing of the earlier request is lost to a slip.
		b.log.DebugContext(ctx, "follow-up needs fixing", "surface", m.Surface, "message", m.ID)
		return b.question(ctx, key, req, problem, m, false), nil
	}
	if has && follows(earlier, req, answered) {
		next := explained(*earlier, *req, answered)
		if answered {
			next = b.flownInstead(*earlier, next, m.Text)
		}
		asked = &next
		if p := unclear(earlier, &next, answered); p != nil {
			next.NotUsed = append(slices.Clone(next.NotUsed), th.question.letGo(&next, earlier, earlier)...)
			return b.question(ctx, key, &next, p, m, false), nil
		}
		made := earlier.Amend(next, answered)
		if stuck = len(next.Open) > 0; next.Also && next.Minima != "" || slices.ContainsFunc(next.Altitudes, circles) {
			made = localizerOnly(*earlier, next, b.asILS(ctx, made))
		}
		if req = &made; m.Heard && answered && problem == nil && req.Verb == parse.Correct && readsSame(earlier, req) {
			return note(), nil // it changes nothing, and was not said to the bot
		}
		said.earlier = carried(earlier, &next, req)
		if answered {
			before = b.amends(key, earlier, &next, req)
		}
		if problem == nil {
			if problem = left(earlier, &next, req, answered); problem != nil && !answered {
				problem = b.still(&th.question, &next, problem)
			} else if problem != nil {
				return b.question(ctx, key, &next, problem, m, false), nil
			}
		}
	}
	if problem != nil {
		if !stuck && (req.Verb == parse.Correct || req.Verb.Shows()) {
			b.threads.put(key, req, false, m.At, "")
		}
		return b.question(ctx, key, req, problem, m, false), nil
	}
	followed := asked != nil // then req is Amend's own
	switch {
	case followed && answered:
		req.NotUsed = append(slices.Clone(req.NotUsed), th.question.letGo(asked, req, earlier)...)
	case followed && th.question.Asked:
		req.NotUsed = append(slices.Clone(req.NotUsed), th.question.untaken(req.Altitudes, asked.Gone)...)
	}
	return b.do(ctx, req, said.alone, m, follow{key: key, earlier: said.earlier, before: before, asked: th.question.when(followed && !answered), next: asked, good: has && answered && followed, fresh: !has})
}

// follow is what an answer follows in its thread.
type follow struct {
	key     threadKey
	earlier string         // what was taken from the message before
	before  *record.Result // whose next version the answer is
	asked   *question      // what was asked in the thread and is open, and what follows it up; nil: nothing
	next    *parse.Request
	good    bool // the request before was answered, and stays if this one cannot be
	fresh   bool // there is no thread yet
}

// onOneLine is a text whose line breaks are spaces.
func onOneLine(text string) string {
	if strings.Contains(text, "\n") || strings.Contains(text, "\r") || strings.Contains(text, "\t") {
		return strings.Join(strings.Fields(text), " ")
	}
	return text
}

// do answers a request that is complete, as far as its words go. typed is the message
// as it reads without its thread; nil: it has none, or does not.
func (b *Bot) do(ctx context.Context, req, typed *parse.Request, m Message, f follow) (reply.Reply, error) {
	if req.Verb == parse.Same && req.Station != "" && len(req.Altitudes)+len(req.Procedure) > 0 {
		whole := asked(*req) // where nothing stands before it
		req = &whole
	}
	switch req.Verb {
	case parse.Help:
		return b.help(), nil
	case parse.Rules:
		return b.describeRules(*req), nil
	case parse.Watch:
		r, err := b.duty(ctx, *req, m)
		if err == nil && r.Problem == nil {
			if len(req.NotUsed) > 0 {
				r.Notes = append(slices.Clip(r.Notes), parse.Unused(req.NotUsed))
			}
			b.threads.lookedAhead(f.key, *req, m.At)
		}
		return r, err
	case parse.Observe, parse.Acknowledge, parse.Snooze, parse.Base:
		return b.duty(ctx, *req, m)
	case parse.Check, parse.Withdraw, parse.Recompute, parse.Log:
		return b.checking(ctx, *req, m)
	case parse.Post:
		return b.post(ctx, *req, m)
	case parse.Mine:
		return b.Home(ctx, m)
	case parse.Stations:
		return b.find(*req, m.At), nil
	case parse.Brief, parse.Route:
		return b.ahead(ctx, *req, m)
	case parse.Add, parse.Remove, parse.Same:
		p := &parse.Problem{Word: req.Verb.String(), Text: parse.ChangesNothing(req.Verb), Try: b.example}
		if whole := asked(*req); !whole.Empty() {
			if p.Try = strings.TrimSpace(whole.Line()); req.Station == "" && !req.HasElevation {
				p.Try = "" // it would be asked about
			}
		}
		return b.ask(p), nil
	}
	if req.Empty() {
		p := nothingAsked(req)
		if b.threads.has(f.key) {
			p.Try = "" // another's example says nothing here
		}
		return b.ask(p), nil
	}
	if files := req.Verb == parse.Card || req.Verb == parse.Picture; files && !b.ports.Pictures {
		return b.ask(noFiles(req.Verb)), nil
	}
	if req.Verb == parse.Picture && req.Kind == pictureDay {
		return b.day(*req), nil
	}
	return b.work(ctx, req, typed, m, f)
}

// work works a request out and keeps what comes of it; typed is as in do.
func (b *Bot) work(ctx context.Context, req, typed *parse.Request, m Message, f follow) (reply.Reply, error) {
	var w worked
	problem, err := b.answer(ctx, req, m.At, f.earlier, &w)
	if err != nil {
		return reply.Reply{}, fmt.Errorf("answer: %w", err)
	}
	if problem == nil && req.Verb == parse.Card && w.reply.Kind != reply.KindCorrection {
		problem = &parse.Problem{Word: "card", Text: parse.NothingToPrint}
	}
	if problem != nil {
		problem = b.still(f.asked, f.next, problem)
		if !f.good {
			b.threads.put(f.key, req, false, m.At, "")
		}
		return b.question(ctx, f.key, req, problem, m, true), nil
	}
	if w.reply.Line != "" && (f.fresh || typed != nil && saysAll(typed, req, w.scene.Line)) {
		w.reply.Line = onOneLine(m.Text)
	}
	if len(req.NotUsed) > 0 {
		w.reply.Notes = append(w.reply.Notes, parse.Unused(req.NotUsed))
	}
	w.req.NotUsed, w.req.SettingInHg, w.req.SettingHPa = nil, 0, 0
	b.threads.put(f.key, &w.req, true, m.At, w.scene.Line, pairsOf(f.key, w.reply.Altitudes)...)
	if req.Verb != parse.Card {
		return b.keep(ctx, m, &w, f.before), nil
	}
	if last := b.threads.last(f.key); last.ID != "" && last.Line == w.line() {
		r, found, err := b.ports.Book.Find(ctx, last.ID)
		if err != nil {
			return reply.Reply{}, fmt.Errorf("card: %w", err)
		}
		if found {
			return b.cardOf(r, req.Kind), nil
		}
	}
	return withCard(b.keep(ctx, m, &w, f.before), req.Kind), nil
}

// Named is the ident of the station that a message names; empty where it names
// none, or more than one.
func (b *Bot) Named(text string) string {
	req, _ := b.reader.Parse(text)
	return req.Station
}

// Problem reads a line that stands alone, with a temperature, and says what is
// wrong with it; nil when it would be answered. It remembers and looks up
// nothing.
func (b *Bot) Problem(ctx context.Context, line string, at time.Time) *reply.Problem {
	req, problem := b.reader.Parse(line)
	if problem == nil && req.Verb == parse.Correct && req.HasTemperature {
		var err error
		if problem, err = b.answer(ctx, &req, at, "", new(worked)); err != nil {
			return nil // no fault of the line; answering it will say so
		}
	}
	if problem == nil {
		return nil
	}
	return b.ask(problem).Problem
}

// ask turns a problem into a reply. The example of the demo region gives way
// to one that can be typed here.
func (b *Bot) ask(p *parse.Problem) reply.Reply {
	text, try := p.Text, strings.Replace(whole(p.Try), parse.Example, b.example, 1)
	if own := b.exampleIdent(); own != "XKLD" && strings.Contains(text, "brief XKLD") { // not known here, so not offered
		text, try = strings.Replace(text, "brief XKLD", "brief "+own, 1), cmp.Or(try, b.briefing)
	}
	r := reply.Ask(reply.Problem{Word: p.Word, Text: text, Try: try})
	r.Actions = picks(p)
	return r
}

// briefExample is a brief that these stations answer.
func briefExample(cfg *config.Config) string {
	if _, ok := cfg.Station("XKLD"); ok || len(cfg.Stations) == 0 {
		return parse.BriefExample
	}
	line := "brief " + cfg.Stations[0].Ident + " 1430Z"
	if len(cfg.Stations) > 1 {
		line += " " + cfg.Stations[1].Ident + " 1515Z"
	}
	return line
}

// whole is a line to type, none where it has letters for what only the crew
// knows.
func whole(line string) string {
	if strings.Contains(line, "-nn") || strings.Contains(line, " nnnn") || strings.Contains(line, "STATION") || strings.Contains(line, "ELEVATION") {
		return ""
	}
	return line
}

// exampleFor is a line that these stations answer.
func exampleFor(cfg *config.Config) string {
	if _, ok := cfg.Station("XKLD"); ok || len(cfg.Stations) == 0 {
		return parse.Example
	}
	s := cfg.Stations[0]
	above := func(ft engine.Height) int { return 100 * int(math.Ceil(float64(ft.Over(s.Elevation))/100)) }
	return fmt.Sprintf("%s -38 %d %d %d", s.Ident, above(3400), above(2600), above(500))
}

func nothingAsked(req *parse.Request) *parse.Problem {
	if v := req.Verb; v.Shows() {
		return &parse.Problem{Word: v.String(), Text: parse.NothingToShow(v), Try: v.String() + " " + parse.Example}
	}
	return &parse.Problem{Text: parse.NothingAsked, Try: parse.Example}
}

// notHere answers the verbs that need what this configuration has not.
func notHere(v parse.Verb) *parse.Problem {
	return &parse.Problem{Word: v.String(), Text: parse.NotHere(v)}
}
