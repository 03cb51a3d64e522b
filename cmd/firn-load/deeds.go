package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/adapters/testkit/slackdouble"
)

// side is one chat service as deeds are done on it: what people do there, and how
// often firn has called it.
type side struct {
	calls func() int
	// say says something to firn in a channel, in the thread of a message or
	// directly, and gives the message.
	say    func(by int, thread, text string, direct bool) (message string, err error)
	edit   func(message, text string) error
	remove func(message string)
	// press presses the button, or chooses the entry, of the newest message that
	// has one of these ids; one with a hyphen at its end is how an id begins.
	press func(by int, ids ...string) error
}

// deed is what somebody does, after what has to be there before.
type deed struct {
	name   string
	before func(on *side) error
	do     func(on *side) error
}

// deeds are done in this order; asked is the question of the one before.
func deeds() []deed {
	asked := ""
	ask := func(text string) func(on *side) error {
		return func(on *side) (err error) {
			asked, err = on.say(0, "", text, false)
			return err
		}
	}
	follow := func(text string) func(on *side) error {
		return func(on *side) error {
			_, err := on.say(0, asked, text, false)
			return err
		}
	}
	press := func(by int, ids ...string) func(on *side) error {
		return func(on *side) error { return on.press(by, ids...) }
	}
	directly := func(on *side) error {
		_, err := on.say(0, "", "XKLD -38 8200", true)
		return err
	}
	return []deed{
		{"a question back (a slip)", nil, ask("XKLD 38 8200 7400 5340")},
		{"an answer", nil, ask("XKLD -38 FAF 8200, DA 5340")},
		{"a follow-up", nil, follow("-41")},
		{"the working", nil, press(0, "working", "why")},
		{"a picture", nil, follow("picture")},
		{"a check", nil, press(1, "check")},
		{"again at the latest", ask("XKLD -20 FAF 8200"), press(0, "again", "latest")},
		{"a question that is edited", ask("XKLD -38 FAF 8200"), func(on *side) error { return on.edit(asked, "XKLD -39 FAF 8200") }},
		{"a question that is deleted", nil, func(on *side) error { on.remove(asked); return nil }},
		{"a direct result posted to the team", directly, press(0, "post")},
		{"one base of the morning seen", nil, press(0, "ack-", "ack")},
		{"all of them seen", nil, press(0, "ack")},
		{"a snooze", nil, press(0, "snooze")},
	}
}

// deedsTable prints how many calls each deed costs, on each service, of a firn of
// its own, since what is seen on one is seen on the other. An older build that
// cannot do one has a dash.
func (s *screen) deedsTable(out io.Writer) error {
	var cells [2][]string
	for i := range cells {
		one := *s
		one.dir = filepath.Join(s.dir, fmt.Sprint(i))
		if err := os.Mkdir(one.dir, 0o700); err != nil {
			return err
		}
		err := one.open()
		if err == nil {
			cells[i], err = one.deedsOn([]func() *side{one.slackSide, one.discordSide}[i](), i)
		}
		one.close()
		if err != nil {
			return err
		}
	}
	fmt.Fprintf(out, "| deed | calls on Slack | calls on Discord |\n| --- | --- | --- |\n| the morning of %d cold bases, posts | %s | %s |\n", coldBases, cells[0][0], cells[1][0])
	for i, d := range deeds() {
		fmt.Fprintf(out, "| %s | %s | %s |\n", d.name, cells[0][i+1], cells[1][i+1])
	}
	return nil
}

// deedsOn does all deeds on a service.
func (s *screen) deedsOn(on *side, i int) (cells []string, err error) {
	for by := range 2 { // whoever asks first has to be looked up
		if _, err := on.say(by, "", "help", false); err != nil {
			return nil, err
		}
	}
	s.quiet(spread)
	cells = []string{fmt.Sprint(s.posts()[i])}
	for _, d := range deeds() {
		cell := "–"
		if d.before == nil || d.before(on) == nil {
			s.quiet(still)
			before := on.calls()
			if d.do(on) == nil {
				s.quiet(still)
				cell = fmt.Sprint(on.calls() - before)
			}
		}
		cells = append(cells, cell)
	}
	return cells, nil
}

// still is how long nothing is called when a deed is done, spread when a morning's
// posts are out, which stand seconds apart.
const (
	still  = time.Second
	spread = 4 * time.Second
)

// quiet waits until nothing has been called for so long.
func (s *screen) quiet(still time.Duration) {
	count := func() int { return s.slack.AllCalls() + s.discord.Counts().Calls }
	for last, since := count(), time.Now(); time.Since(since) < still && s.ctx.Err() == nil; time.Sleep(20 * time.Millisecond) {
		if n := count(); n != last {
			last, since = n, time.Now()
		}
	}
}

// posts is how many stand in the channels of the alerts, on Slack and on Discord.
func (s *screen) posts() [2]int {
	posts := [2]int{len(s.slack.Posted(alertChannel)), 0}
	for _, m := range s.discordMessages() {
		if c, _ := s.discord.Channel(m.Channel); alertPlace == cmp.Or(c.Parent, m.Channel) {
			posts[1]++
		}
	}
	return posts
}

func (s *screen) slackSide() *side {
	people := []string{shownUser, otherUser}
	return &side{
		calls: s.slack.AllCalls,
		say: func(by int, thread, text string, direct bool) (string, error) {
			m := slackdouble.Said{User: people[by], Channel: shownChannel, Thread: thread, Text: s.slack.Mention() + " " + text}
			if direct {
				m.Channel, m.Text = s.slack.Direct(people[by]), text
			}
			return s.slack.Say(m)
		},
		edit: func(message, text string) error {
			_, err := s.slack.Edit(shownChannel, message, s.slack.Mention()+" "+text)
			return err
		},
		remove: func(message string) { s.slack.Delete(shownChannel, message) },
		press: func(by int, all ...string) error {
			var list []slackdouble.Message
			for _, c := range []string{shownChannel, alertChannel, s.slack.Direct(people[by])} {
				list = append(list, s.slack.Posted(c)...)
			}
			slices.SortFunc(list, func(a, b slackdouble.Message) int { return cmp.Compare(b.TS, a.TS) })
			for _, id := range all {
				for _, m := range list {
					for _, b := range m.Buttons() {
						if is(id, strings.TrimPrefix(b.ID, "do:")) {
							_, err := s.slack.Press(people[by], m.Channel, m.TS, b.ID)
							return err
						}
					}
					for _, o := range m.Menu() {
						if o.Value == id {
							_, err := s.slack.Choose(people[by], m.Channel, m.TS, id)
							return err
						}
					}
				}
			}
			return errNone
		},
	}
}

// actionID is the id of the action in the id of a button on Discord.
var actionID = regexp.MustCompile(`(?:^|:)[al]:\d+:([^:]+):`)

// is says that an id is the one that is looked for.
func is(want, id string) bool {
	return id == want || strings.HasSuffix(want, "-") && strings.HasPrefix(id, want)
}

var errNone = errors.New("there is no such button")

// discordMessages are the bot's, newest first.
func (s *screen) discordMessages() (list []discorddouble.Message) {
	for _, c := range s.discord.AllChannels() {
		list = append(list, s.discord.FromBot(c)...)
	}
	slices.SortFunc(list, func(a, b discorddouble.Message) int { return cmp.Compare(b.ID, a.ID) })
	return list
}

func (s *screen) discordSide() *side {
	people := []string{shownPerson, otherPerson}
	return &side{
		calls: func() int { return s.discord.Counts().Calls },
		say: func(by int, thread, text string, direct bool) (string, error) {
			m := discorddouble.Say{By: people[by], Channel: shownPlace, Text: s.discord.Mention() + " " + text}
			if thread != "" {
				m.Channel = thread
			}
			if direct {
				m.Channel = s.discord.DM(people[by])
			}
			return s.discord.Say(m)
		},
		edit: func(message, text string) error {
			_, err := s.discord.Edit(shownPlace, message, s.discord.Mention()+" "+text)
			return err
		},
		remove: func(message string) { s.discord.Delete(shownPlace, message) },
		press: func(by int, all ...string) error {
			for _, id := range all {
				for _, m := range s.discordMessages() {
					for _, b := range slices.Concat(m.Rows...) {
						if own := actionID.FindStringSubmatch(b.CustomID); own != nil && is(id, own[1]) {
							_, err := s.discord.Press(m.Channel, m.ID, people[by], b.CustomID)
							return err
						}
					}
					for _, menu := range m.Menus {
						for _, o := range menu.Options {
							if o.Value == id {
								_, err := s.discord.Choose(m.Channel, m.ID, people[by], id)
								return err
							}
						}
					}
				}
			}
			return errNone
		},
	}
}

// coldBases have their morning at the same time where deeds are counted.
const coldBases = 12

// coldConfig are the other bases, and their weather.
func coldConfig(at time.Time) (stations, weather string) {
	var s, w strings.Builder
	for i := range coldBases - 1 {
		ident := fmt.Sprintf("XB%c%c", 'A'+i/10, '0'+i%10)
		fmt.Fprintf(&s, "  - {ident: %s, elevation_ft: 3000, restriction_c: -20, mountainous: true, time_zone: Africa/Abidjan, watch: {at: %q, days: daily, channels: [\"slack:%s\", \"discord:%s\", page]}}\n",
			ident, at.Format("15:04"), alertChannel, alertPlace)
		fmt.Fprintf(&w, "METAR %s {DDHHMM-7m}Z 00000KT 9999 FEW040 M2%d/M33 Q1031\nTAF %s {DDHHMM-30m}Z {DDHH}/{DDHH+30h} 00000KT CAVOK TNM31/{DDHH+9h}Z\n", ident, i%10, ident)
	}
	return s.String(), w.String()
}
