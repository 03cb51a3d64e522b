package main

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/watch"
	"firn/engine/coldwatch"
)

// A morning is one post a channel: what of it stands in the outbox, what of each
// alert is told in it, and what the post says in the end.

// digests are what was posted of the mornings.
func (w *weathered) digests(s store) []outbox.Shown {
	all, err := s.Posts(context.Background(), "digest/", w.began.Add(-48*time.Hour))
	if err != nil {
		w.Fatal(err)
	}
	return all
}

// channelsOf are where a base's words go.
func (w *weathered) channelsOf(base int) []string {
	return []string{"slack:" + alertChannel(base%faultAlerts), "discord:" + alertDiscord(base)}
}

// dutyChannels are those of the people on duty, in the order of escalation.
func (w *weathered) dutyChannels() []string {
	return []string{"slack:" + slackKari, "discord:" + w.discord.People()[0].ID}
}

// day is a base's, as the store has it, without what was made after a time.
func (w *weathered) day(s store, base int, until time.Time) watch.Day {
	d, err := s.Day(context.Background(), fmt.Sprintf("X%03d", base), w.due[base].Format(time.DateOnly))
	if err != nil {
		w.Fatal(err)
	}
	d.Alerts = slices.DeleteFunc(d.Alerts, func(a watch.Alert) bool { return a.Made.After(until) })
	return d
}

// telling is how often each alert is told in each channel: "channel name". What
// the morning's post tells stands in its thread in full.
func telling(all []outbox.Shown) map[string]int {
	told := map[string]int{}
	morning := map[string]bool{}
	for _, p := range slices.SortedFunc(slices.Values(all), func(a, b outbox.Shown) int {
		_, n := a.OrderingKey()
		_, m := b.OrderingKey()
		return n - m
	}) {
		d := p.Body.Digest
		if d == nil {
			continue
		}
		for _, name := range d.Told {
			name = p.Channel + " " + name
			if d.Word == reply.DigestMorning {
				morning[name] = true
			}
			if d.Word == reply.DigestBase && p.Under() != "" && morning[name] {
				morning[name] = false // once
				continue
			}
			told[name]++
		}
	}
	return told
}

// news says that an alert must be told, whatever people did meanwhile. The
// morning's word on a warm base is no news.
func news(a watch.Alert) bool {
	reminds := a.Kind == watch.Repeated || a.Kind == watch.Escalated
	return !reminds && (a.Kind != watch.Opened || a.Judgement.State.Asks())
}

// untold are the alerts that were made by then and are told nowhere, or not in
// one of their channels.
func (w *weathered) untold(s store, until time.Time) (names []string) {
	all := w.digests(s)
	told := telling(all)
	for i := range w.due {
		d := w.day(s, i, until)
		for _, a := range d.Alerts {
			where := w.channelsOf(i)
			switch {
			case !news(a) && (len(d.Acks) > 0 || a.Kind == watch.Opened || a.Seq != d.Alerts[len(d.Alerts)-1].Seq):
				continue
			case a.Kind == watch.Escalated:
				escalated := -1
				for _, b := range d.Alerts {
					if b.Kind == watch.Escalated {
						escalated++
					}
				}
				where = w.dutyChannels()[escalated : escalated+1]
			}
			for _, c := range where {
				if name := toldName(a); told[c+" "+name] == 0 && (news(a) || !named(all, c, a)) {
					names = append(names, name+" in "+c)
				}
			}
		}
	}
	return names
}

// named says that a reminder for another base named this one just before.
func named(all []outbox.Shown, channel string, a watch.Alert) bool {
	return slices.ContainsFunc(all, func(p outbox.Shown) bool {
		since := a.Made.Sub(p.Made)
		return p.Channel == channel && p.Body.Digest != nil && p.Body.Digest.Word == reply.DigestReminder && since >= 0 && since < faultRepeat &&
			slices.ContainsFunc(p.Body.Bases, func(c reply.Cold) bool { return c.Ident == a.Base })
	})
}

func toldName(a watch.Alert) string { return fmt.Sprintf("%s/%s/%d", a.Base, a.Day[5:], a.Seq) }

// countDigests: a channel's morning has one post, its words have their numbers
// without a gap, each alert is told once in each of its channels, and the posts
// say how things stand.
func (w *weathered) countDigests(s store, until time.Time) {
	all := w.digests(s)
	for name, n := range telling(all) {
		if n > 1 {
			w.total.note("doubled", none, "%s is told %d times", name, n)
		}
	}
	for _, name := range w.untold(s, until) {
		w.total.note("lost", none, "%s is not told", name)
	}
	numbers, mornings := map[string][]int{}, map[string]int{}
	for _, p := range all {
		line, n := p.OrderingKey()
		numbers[p.Channel+" "+line] = append(numbers[p.Channel+" "+line], n)
		if d := p.Body.Digest; d != nil && d.Word == reply.DigestMorning {
			mornings[p.Channel+" "+line]++
			w.total.mornings++
		}
		if d := p.Body.Digest; d != nil && d.Word == reply.DigestReminder {
			w.total.reminders++
		}
	}
	for line, list := range numbers {
		slices.Sort(list)
		if list[0] != 1 || list[len(list)-1] != len(list) {
			w.total.note("lost", none, "%s has the numbers %v", line, list)
		}
	}
	for i, due := range w.due {
		if !w.mustTell(due, until) || i%4 == 3 {
			continue
		}
		for _, c := range w.channelsOf(i) {
			if n := mornings[c+" digest/"+due.Format(time.DateOnly)]; n != 1 {
				w.total.note(map[bool]string{true: "lost", false: "doubled"}[n == 0], w.before(w.real(due)), "%s has %d morning posts", c, n)
			}
		}
	}
	for _, lie := range w.untrue {
		w.total.note("wrong", none, "%s", lie)
	}
}

// morningPost is the post of a channel's morning as people read it; empty: there
// is none.
func (w *weathered) morningPost(p outbox.Shown) string {
	on, id, _ := strings.Cut(p.Channel, ":")
	if on == "slack" {
		for _, m := range w.slack.Posted(id) {
			if m.Key("key") == p.Key {
				return m.Read()
			}
		}
		return ""
	}
	for _, m := range w.discord.FromBot(id) {
		if strings.HasSuffix(p.Ref, "/"+m.ID) {
			return readDiscord(m)
		}
	}
	return ""
}

var belowCount = regexp.MustCompile(`(None|\d+) below`)

// lies are what the mornings' posts say that is not so.
func (w *weathered) lies(s store, until time.Time) (all []string) {
	for _, p := range w.digests(s) {
		if d := p.Body.Digest; d == nil || d.Word != reply.DigestMorning {
			continue
		}
		text, below := w.morningPost(p), 0
		for i, due := range w.due {
			if !slices.Contains(w.channelsOf(i), p.Channel) || "digest/"+due.Format(time.DateOnly)+"/1" != p.Key {
				continue
			}
			d := w.day(s, i, until)
			if len(d.Alerts) == 0 {
				continue
			}
			a, seen := last(d)
			if a.Judgement.State == coldwatch.Below {
				below++
			}
			if lie := lineLies(text, a, seen); lie != "" {
				all = append(all, p.Channel+": "+lie)
			}
		}
		want := strconv.Itoa(below)
		if below == 0 {
			want = "None"
		}
		if m := belowCount.FindStringSubmatch(text); m == nil || m[1] != want {
			all = append(all, fmt.Sprintf("%s: %s are below, and it is headed %.100q", p.Channel, want, text))
		}
	}
	return all
}

// last is what was judged last, and whether somebody has seen it.
func last(d watch.Day) (a watch.Alert, seen bool) {
	for _, b := range d.Alerts {
		if b.Kind != watch.Repeated && b.Kind != watch.Escalated {
			a = b
		}
	}
	return a, slices.ContainsFunc(d.Acks, func(k watch.Ack) bool { return k.Seq >= a.Seq })
}

// lineLies is what is not so in a base's line. What is clear is folded.
func lineLies(text string, a watch.Alert, seen bool) string {
	if a.Judgement.State == coldwatch.Clear {
		return ""
	}
	_, line, there := strings.Cut(text, a.Base+": ")
	if !there {
		return a.Base + " is not in it"
	}
	if next := strings.Index(line, "X0"); next >= 0 {
		line = line[:next]
	}
	low := ""
	if a.Judgement.State == coldwatch.Below {
		low = reply.Degrees(float64(a.Judgement.Low)) + " at "
	}
	switch {
	case !strings.HasPrefix(line, low):
		return fmt.Sprintf("%s is %s, and its line is %q", a.Base, low, line)
	case a.Kind == watch.Ended || strings.Contains(line, "Its window is over."):
		return ""
	case seen != strings.Contains(line, "Seen by Kari"), seen == strings.Contains(line, "Not seen."):
		return fmt.Sprintf("%s is seen: %v, and its line is %q", a.Base, seen, line)
	}
	return ""
}

// settled waits until everything that was made by then is told, and the posts
// say how things stand. The clock goes on, so that it is looked at again.
func (w *weathered) settled(until time.Time) {
	s := open(w.T, w.dir, w.url)
	defer closed(w.T, s)
	for end := time.Now().Add(faultMostAgo); ; time.Sleep(200 * time.Millisecond) {
		if w.untrue = w.lies(s, w.now()); len(w.untrue) == 0 && len(w.untold(s, until)) == 0 || time.Now().After(end) {
			return
		}
	}
}
