package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/adapters/testkit/slackdouble"
	"firn/bot"
)

// wxDouble speaks the government aviation weather API. What it says changes
// with the clock.
type wxDouble struct {
	server *httptest.Server
	now    func() time.Time
	down   atomic.Bool
}

func newWxDouble(now func() time.Time) *wxDouble {
	x := &wxDouble{now: now}
	x.server = httptest.NewServer(x)
	return x
}

func (x *wxDouble) set(down bool) { x.down.Store(down) }

// lowOf is the temperature that is forecast for a base in a part of the day:
// three in four are below their line, and it changes by more than the step.
func lowOf(base, part int) int {
	if base%4 == 3 {
		return -12
	}
	return -31 - 5*((base+part)%2)
}

// wxPart is how long a forecast holds before the next says something else.
const wxPart = 3 * time.Hour

func wxPartOf(t time.Time) int { return int(t.Unix() / int64(wxPart/time.Second)) }

// ServeHTTP answers for the bases that are watched and for no other station.
func (x *wxDouble) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if x.down.Load() {
		http.Error(w, "down", http.StatusServiceUnavailable)
		return
	}
	now := x.now().UTC()
	hour := now.Truncate(time.Hour)
	list := []map[string]any{}
	for ident := range strings.SplitSeq(r.URL.Query().Get("ids"), ",") {
		base, err := strconv.Atoi(strings.TrimPrefix(ident, "X"))
		if err != nil {
			continue
		}
		low := lowOf(base, wxPartOf(hour))
		m := fmt.Sprintf("M%02d", -low)
		if strings.HasSuffix(r.URL.Path, "/taf") {
			text := fmt.Sprintf("TAF %s %sZ %s/%s 00000KT CAVOK", ident, hour.Add(-10*time.Minute).Format("021504"), hour.Add(-6*time.Hour).Format("0215"), hour.Add(24*time.Hour).Format("0215"))
			for _, h := range []int{0, 3, 6, 9} {
				text += fmt.Sprintf(" TN%s/%sZ", m, hour.Add(time.Duration(h)*time.Hour).Format("0215"))
			}
			list = append(list, map[string]any{"icaoId": ident, "rawTAF": text, "issueTime": hour.Add(-10 * time.Minute).Format(time.RFC3339)})
			continue
		}
		at := now.Add(-5 * time.Minute).Truncate(10 * time.Minute)
		list = append(list, map[string]any{"icaoId": ident, "obsTime": at.Unix(), "rawOb": fmt.Sprintf("METAR %s %sZ 00000KT CAVOK %s/M40 Q1030", ident, at.Format("021504"), m)})
	}
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(list) // an asker that is gone
}

// question is one that somebody asked, and what must come of it.
type question struct {
	discord  bool
	channel  string
	id       string // of the message
	by       int
	text     string
	want     []string // corrected altitudes, as they are shown
	at       time.Time
	confirm  bool // two people press at once
	blind    bool // one enters the figures
	attempts int
	checked  time.Time
	checkID  string // of the message that checks blind
}

// crowd is the people.
type crowd struct {
	w    *weathered
	bot  *bot.Bot
	next atomic.Int64
	mu   sync.Mutex
	all  []*question
}

func newCrowd(w *weathered) *crowd {
	cfg, rules, err := configured(w.dir)
	if err != nil {
		w.Fatal(err)
	}
	b, err := bot.New(slog.New(slog.DiscardHandler), cfg, rules)
	if err != nil {
		w.Fatal(err)
	}
	return &crowd{w: w, bot: b}
}

// work lets people ask, check and acknowledge until the context ends.
func (c *crowd) work(ctx context.Context, working *sync.WaitGroup, seed uint64) {
	every := func(pace time.Duration, n uint64, do func(r *rand.Rand)) {
		working.Go(func() {
			r := rand.New(rand.NewPCG(seed, n))
			for ctx.Err() == nil {
				time.Sleep(time.Duration(float64(pace) * (0.5 + r.Float64())))
				do(r)
			}
		})
	}
	every(*faultPace, 1, func(r *rand.Rand) { c.ask(r, false) })
	every(*faultPace, 2, func(r *rand.Rand) { c.ask(r, true) })
	every(*faultPace, 3, func(r *rand.Rand) { _ = c.check(r) })
	every(500*time.Millisecond, 4, func(r *rand.Rand) { c.acknowledge(r) })
}

// ask asks something that nobody has asked, and works it out.
func (c *crowd) ask(r *rand.Rand, discord bool) {
	n := int(c.next.Add(1))
	q := &question{discord: discord, channel: crewChannel(r.IntN(faultChannels)), by: r.IntN(faultCrew), at: time.Now()}
	if discord {
		q.channel = c.w.discord.Channels()[0]
	}
	q.text = fmt.Sprintf("K%03d -%d %d", n%faultStations, 26+n/faultStations%24, 6000+10*(n/(24*faultStations)%400)+r.IntN(2)*2000)
	rep, err := c.bot.Handle(context.Background(), bot.Message{Text: q.text, At: q.at})
	if err != nil || len(rep.Altitudes) == 0 {
		c.w.Errorf("%q has no answer: %v", q.text, err)
		return
	}
	for _, a := range rep.Altitudes {
		q.want = append(q.want, strconv.Itoa(int(a.CorrectedFt)))
	}
	switch r.IntN(4) {
	case 0:
		q.confirm = true
	case 1:
		q.blind = true
	}
	if discord {
		q.id, err = c.w.discord.Say(discorddouble.Say{By: crewDiscord(q.by), Channel: q.channel, Text: c.w.discord.Mention() + " " + q.text})
	} else {
		q.id, err = c.w.slack.Say(slackdouble.Said{User: crewSlack(q.by), Channel: q.channel, Text: c.w.slack.Mention() + " " + q.text})
	}
	if err != nil {
		c.w.Error(err)
		return
	}
	c.mu.Lock()
	c.all = append(c.all, q)
	c.mu.Unlock()
	c.w.mu.Lock()
	if discord {
		c.w.said = append(c.w.said, q.id)
	} else {
		c.w.deeds = append(c.w.deeds, q.channel+"/"+q.id)
	}
	c.w.mu.Unlock()
}

// shown is a message of the bot's, as somebody reads it.
type shown struct {
	id, channel, text string
	buttons           []string
}

// answers are the bot's messages to a question.
func (c *crowd) answers(q *question) (list []shown) {
	if q.discord {
		var all []discorddouble.Message
		all = append(all, c.w.discord.FromBot(q.id)...) // the thread has the id of its message
		for _, m := range c.w.discord.FromBot(q.channel) {
			if m.Reply == q.id {
				all = append(all, m)
			}
		}
		for _, m := range all {
			if m.Only != "" {
				continue
			}
			s := shown{id: m.ID, channel: m.Channel, text: readDiscord(m)}
			for _, row := range m.Rows {
				for _, b := range row {
					s.buttons = append(s.buttons, b.Label)
				}
			}
			list = append(list, s)
		}
		return list
	}
	for _, m := range c.w.slack.Thread(q.channel, q.id) {
		if m.BotID == "" || m.TS == q.id {
			continue
		}
		list = append(list, shown{id: m.TS, channel: q.channel, text: m.Read(), buttons: buttons(m)})
	}
	return list
}

func readDiscord(m discorddouble.Message) string {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	_ = enc.Encode(struct {
		Content string
		Embeds  []discorddouble.Embed
	}{m.Content, m.Embeds}) // it can be encoded
	return b.String()
}

// Not an answer with figures, but what became of a deed.
var word = regexp.MustCompile(`is checked by .* at |is already checked|have already checked|is your own|disagree|No record is called|There is no result here|could not work this out|could not do this|asks too often|more to do than it can|No answer`)

// card is the answer with the figures, if there is one.
func card(list []shown) (cards []shown, words []shown) {
	for _, s := range list {
		if strings.Contains(s.text, "K0") && strings.Contains(s.text, "CHECKED ") {
			cards = append(cards, s)
			continue
		}
		if word.MatchString(s.text) {
			words = append(words, s)
			continue
		}
		cards = append(cards, s)
	}
	return cards, words
}

var recordName = regexp.MustCompile(`[A-Z]{6}-[A-Z]{4}`)

// rest has checked what nobody has checked yet: what the faults left of a card
// shows when something happens to it afterwards.
func (c *crowd) rest(seed uint64) {
	r := rand.New(rand.NewPCG(seed, 5))
	for end := time.Now().Add(faultRound); c.check(r) && time.Now().Before(end); {
		time.Sleep(10 * time.Millisecond)
	}
}

// check lets a second person, or two at once, check an answer. Who sees that
// a press failed presses again. It says whether there was one to check.
func (c *crowd) check(r *rand.Rand) bool {
	c.mu.Lock()
	var q *question
	for _, one := range c.all {
		if (one.confirm || one.blind) && one.attempts == 0 {
			q = one
			break
		}
	}
	if q != nil {
		// What is not answered yet waits behind the others.
		i := slices.Index(c.all, q)
		c.all = append(slices.Delete(c.all, i, i+1), q)
	}
	c.mu.Unlock()
	if q == nil {
		return false
	}
	cards, _ := card(c.answers(q))
	if len(cards) == 0 {
		if time.Since(q.at) > faultMostAgo {
			q.attempts = -1
		}
		return true
	}
	q.attempts, q.checked = 1, time.Now()
	c.check1(q, cards[0], r)
	return true
}

// second are the people who check a question.
func (q *question) second() (a, b int) { return (q.by + 1) % faultCrew, (q.by + 2) % faultCrew }

func (c *crowd) check1(q *question, at shown, r *rand.Rand) {
	a, b := q.second()
	id := recordName.FindString(at.text)
	switch {
	case q.confirm:
		var two sync.WaitGroup
		two.Go(func() { c.press(q, at, a) })
		two.Go(func() { c.press(q, at, b) })
		two.Wait()
	case q.discord:
		said, err := c.w.discord.Say(discorddouble.Say{By: crewDiscord(a), Channel: at.channel, Text: c.w.discord.Mention() + " check " + id + " " + strings.Join(q.want, " ")})
		if err != nil {
			c.w.Error(err)
		}
		if r.IntN(2) == 0 {
			_ = c.w.discord.Redeliver(said)
		}
	default:
		ts, err := c.w.slack.Say(slackdouble.Said{User: crewSlack(a), Channel: q.channel, Thread: q.id, Text: c.w.slack.Mention() + " check " + id + " " + strings.Join(q.want, " ")})
		if err != nil {
			c.w.Error(err)
		}
		q.checkID = ts
		if r.IntN(2) == 0 {
			_ = c.w.slack.Redeliver(q.channel + "/" + ts)
		}
	}
}

// press presses "Check"; on Slack, and once on Discord: there a press that
// failed shows later than here.
func (c *crowd) press(q *question, at shown, by int) {
	if q.discord {
		// The card may have changed since: no button, no press.
		if _, err := c.w.discord.Press(at.channel, at.id, crewDiscord(by), "Check"); err == nil {
			c.confirm(at, func(id string) bool {
				for _, m := range c.w.discord.FromBot(at.channel) {
					if m.Only == crewDiscord(by) && strings.Contains(m.Content+fmt.Sprint(m.Embeds), id) {
						_, err := c.w.discord.Press(at.channel, m.ID, crewDiscord(by), "Check")
						return err == nil
					}
				}
				return false
			})
		}
		return
	}
	for range 5 {
		deed, err := c.w.slack.Press(crewSlack(by), q.channel, at.id, "do:check")
		if err == nil {
			_ = c.w.slack.Redeliver(deed)
			c.confirm(at, func(id string) bool {
				for _, v := range c.w.slack.Views(crewSlack(by)) {
					if v.Callback == "firn_confirm" && v.Open && strings.Contains(v.Private, id) {
						deed, err := c.w.slack.Submit(v.ID, nil)
						_ = c.w.slack.Redeliver(deed)
						return err == nil
					}
				}
				return false
			})
			return
		}
		if strings.Contains(err.Error(), "no button") {
			return // the other was faster, and the card shows it
		}
		time.Sleep(100 * time.Millisecond)
	}
}

// confirm says yes to the figures that a press has shown, where it has: the
// press may have come to nothing. yes presses what stands for a record.
func (c *crowd) confirm(at shown, yes func(id string) bool) {
	id := recordName.FindString(at.text)
	for end := time.Now().Add(time.Second); time.Now().Before(end) && !yes(id); {
		time.Sleep(10 * time.Millisecond)
	}
}

// acknowledge lets the officer on duty say that all of a morning is seen, or one base.
func (c *crowd) acknowledge(r *rand.Rand) {
	channel := alertChannel(r.IntN(faultAlerts - 1)) // nobody looks at the last one: it is reminded
	all := c.w.slack.Posted(channel)
	if len(all) == 0 {
		return
	}
	m := all[r.IntN(len(all))]
	seen := slices.DeleteFunc(buttons(m), func(id string) bool { return !strings.HasPrefix(id, "do:ack") })
	if len(seen) == 0 {
		return
	}
	_, _ = c.w.slack.Press(slackKari, channel, m.TS, seen[r.IntN(len(seen))]) // or it is not, which the run must bear as well
}

// buttons are the deeds of a message's buttons.
func buttons(m slackdouble.Message) (ids []string) {
	for _, b := range m.Buttons() {
		ids = append(ids, b.ID)
	}
	return ids
}
