package main

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/bot/record"
	"firn/bot/watch"
	"firn/engine/coldwatch"
)

// queued is a row of the outbox.
type queued struct{ key, channel, state, ref string }

func (w *weathered) database() (*sql.DB, error) {
	if w.url != "" {
		return sql.Open("pgx", w.url)
	}
	return sql.Open("sqlite", "file:"+filepath.Join(w.dir, "data", "firn.db")+"?_pragma=busy_timeout(5000)&_pragma=query_only(1)")
}

// column is what a query gives; nothing while the database does not answer.
func (w *weathered) column(query string) (all []string) {
	db, err := w.database()
	if err != nil {
		return nil
	}
	defer db.Close()
	list, err := db.QueryContext(context.Background(), query)
	if err != nil {
		return nil
	}
	defer list.Close()
	for list.Next() {
		var text string
		if list.Scan(&text) != nil {
			return nil
		}
		all = append(all, text)
	}
	if list.Err() != nil {
		return nil
	}
	return all
}

func (w *weathered) queue() (rows []queued, err error) {
	db, err := w.database()
	if err != nil {
		return nil, err
	}
	defer db.Close()
	list, err := db.QueryContext(context.Background(), "SELECT key, channel, state, coalesce(ref, '') FROM outbox")
	if err != nil {
		return nil, err
	}
	defer list.Close()
	for list.Next() {
		var q queued
		if err := list.Scan(&q.key, &q.channel, &q.state, &q.ref); err != nil {
			return nil, err
		}
		rows = append(rows, q)
	}
	return rows, list.Err()
}

// quiet waits until nothing waits any more, and gives the time on the clock
// up to which everything that was due must have been told.
func (w *weathered) quiet() time.Time {
	w.people.mu.Lock()
	all := slices.Clone(w.people.all)
	w.people.mu.Unlock()
	if len(w.replicas) > 1 {
		// What a killed process had begun is another's once it is held no more.
		time.Sleep(faultHold + time.Second)
	}
	for end := time.Now().Add(faultMostAgo); time.Now().Before(end); {
		all = slices.DeleteFunc(all, func(q *question) bool {
			cards, _ := card(w.people.answers(q))
			return len(cards) > 0 || w.cutOff(q, q.at)
		})
		if len(all) == 0 {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	until := w.now()
	// A machine that has other work is behind its fast clock.
	for end := time.Now().Add(faultDrain); time.Now().Before(end) && !w.mornings(until); {
		time.Sleep(200 * time.Millisecond)
	}
	for end := time.Now().Add(faultDrain); time.Now().Before(end) && len(w.column("SELECT record FROM record_card WHERE told < want")) > 0; {
		time.Sleep(200 * time.Millisecond)
	}
	w.settled(until)
	// The clock goes on and makes more; what is there now must go out.
	rows, err := w.queue()
	if err != nil {
		w.Fatal(err)
	}
	w.posts = map[[2]string]bool{}
	for _, q := range rows {
		w.posts[[2]string{q.key, q.channel}] = true
	}
	for end := time.Now().Add(faultDrain); time.Now().Before(end); {
		rows, err := w.queue()
		if err == nil && !slices.ContainsFunc(rows, w.overdue) {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	return until
}

// mornings says whether each base whose morning had come by then has a word.
func (w *weathered) mornings(until time.Time) bool {
	told := map[string]bool{}
	for _, name := range w.column("SELECT DISTINCT base || day FROM alert") {
		told[name] = true
	}
	for i, due := range w.due {
		if w.mustTell(due, until) && !told[fmt.Sprintf("X%03d", i)+due.Format(time.DateOnly)] {
			return false
		}
	}
	return true
}

// mustTell says that a morning must have been told by then, also by a clock
// that is ten minutes late.
func (w *weathered) mustTell(due, until time.Time) bool {
	return due.Add(12 * time.Minute).Before(until)
}

// overdue says that a post must have gone out by now.
func (w *weathered) overdue(q queued) bool {
	return q.state != "sent" && w.posts[[2]string{q.key, q.channel}]
}

// count holds what people see to what should have been.
func (w *weathered) count(until time.Time) {
	rows, err := w.queue()
	if err != nil {
		w.Fatal(err)
	}
	s := open(w.T, w.dir, w.url)
	defer closed(w.T, s)
	w.countAlerts(s, until)
	w.countPosts(rows)
	w.countDigests(s, until)
	w.countAnswers()
	w.countChecks(s)
	for _, p := range w.discord.Violations() {
		// How fast it is depends on what else the machine does; firn-load says it.
		if !strings.Contains(p, "was answered after") {
			w.total.note("wrong", w.before(time.Now()), "Discord would have refused: %s", p)
		}
	}
	for _, p := range w.slack.Problems() {
		// A replica that is killed or cut off acknowledges nothing.
		if !strings.Contains(p, "was not acknowledged within") {
			w.total.note("wrong", w.before(time.Now()), "Slack would have refused: %s", p)
		}
	}
}

// countAlerts: each base's morning was told, with a temperature that was
// forecast.
func (w *weathered) countAlerts(store watch.Store, until time.Time) {
	for i, due := range w.due {
		base, day := fmt.Sprintf("X%03d", i), due.Format(time.DateOnly)
		fault := w.before(w.real(due))
		d, err := store.Day(context.Background(), base, day)
		if err != nil {
			w.Fatal(err)
		}
		if len(d.Alerts) == 0 {
			if w.mustTell(due, until) {
				w.total.note("lost", fault, "%s was due at %s", base, due)
			}
			continue
		}
		for n, a := range d.Alerts {
			w.total.alerts++
			switch {
			case a.Seq != n+1 || (n == 0) != (a.Kind == watch.Opened):
				w.total.note("wrong", fault, "%s: alert %d is %d, %s", base, n+1, a.Seq, a.Kind)
			case a.Judgement.State == coldwatch.NoForecast:
			case a.Judgement.Low != -12 && a.Judgement.Low != -31 && a.Judgement.Low != -36,
				(a.Judgement.Low == -12) != (i%4 == 3), (a.Judgement.State == coldwatch.Below) != (i%4 != 3):
				w.total.note("wrong", fault, "%s: %s, low %v", base, a.Judgement.State, a.Judgement.Low)
			}
		}
	}
}

// real is when the clock showed a time.
func (w *weathered) real(t time.Time) time.Time { return w.began.Add(t.Sub(w.began) / faultSpeed) }

// countPosts: every post stands once on its channel.
func (w *weathered) countPosts(rows []queued) {
	want := map[string]map[string]bool{} // channel, key
	late := map[string]bool{}            // it may stand, or not yet
	for _, q := range rows {
		if q.state != "sent" && !w.overdue(q) {
			late[q.key] = true
			continue
		}
		w.total.posts++
		if want[q.channel] == nil {
			want[q.channel] = map[string]bool{}
		}
		want[q.channel][q.key] = true
		if q.state != "sent" {
			w.total.note("lost", w.before(time.Now()), "%s on %s is %s", q.key, q.channel, q.state)
		}
	}
	for channel, keys := range want {
		got := map[string]int{}
		first := map[string]time.Time{}
		on, id, _ := strings.Cut(channel, ":")
		if on == "slack" {
			if id == slackKari {
				id = w.slack.Direct(id)
			}
			for _, m := range w.slack.Posted(id) {
				if key := m.Key("key"); key != "" {
					got[key]++
					first[key] = slackTime(m.TS)
				}
			}
			for key := range keys {
				if got[key] == 0 {
					w.total.note("lost", w.before(time.Now()), "%s on %s", key, channel)
				}
			}
		} else {
			if id == w.discord.People()[0].ID {
				id = w.discord.DM(id)
			}
			for _, m := range w.discord.FromBot(id) {
				got[markOf(m)]++
				for _, under := range w.discord.FromBot(m.ID) { // a thread has the id of its message
					got[markOf(under)]++
				}
			}
			if len(got) < len(keys) {
				for range len(keys) - len(got) {
					w.total.note("lost", w.before(time.Now()), "a post on %s", channel)
				}
			}
		}
		for key, n := range got {
			if n > 1 {
				at := first[key]
				if at.IsZero() {
					at = time.Now()
				}
				w.total.note("doubled", w.before(at), "%q on %s stands %d times", key, channel, n)
			}
			if on == "slack" && !keys[key] && !late[key] {
				w.total.note("wrong", w.before(first[key]), "%q on %s is of nobody", key, channel)
			}
		}
	}
}

// markOf is the mark of a post on Discord: ~MARK: before the id of something to
// press. What has none is counted as one that has no name.
func markOf(m discorddouble.Message) string {
	var ids []string
	for _, row := range m.Rows {
		for _, b := range row {
			ids = append(ids, b.CustomID)
		}
	}
	for _, menu := range m.Menus {
		ids = append(ids, menu.CustomID)
	}
	for _, id := range ids {
		if mark, ok := strings.CutPrefix(id, "~"); ok {
			mark, _, _ = strings.Cut(mark, ":")
			return mark
		}
	}
	return ""
}

func slackTime(ts string) time.Time {
	var s, us int64
	if _, err := fmt.Sscanf(ts, "%d.%d", &s, &us); err != nil {
		return time.Time{}
	}
	return time.Unix(s, us*1000)
}

// countAnswers: each question is answered once, with the engine's figures.
func (w *weathered) countAnswers() {
	sorry := map[string]int{} // who was told alone that there is no answer
	for _, m := range w.slack.Private() {
		if strings.Contains(m.Read(), "Too much is asked here") {
			sorry[m.Only]++
		}
	}
	for _, q := range w.people.all {
		on := "Slack"
		if q.discord {
			on = "Discord"
		}
		fault := w.before(q.at)
		list := w.people.answers(q)
		cards, words := card(list)
		switch {
		case len(cards) == 0 && w.cutOff(q, q.at):
			w.total.note("cut off", fault, "")
		case len(cards) == 0 && (len(words) > 0 || !q.discord && sorry[crewSlack(q.by)] > 0):
			sorry[crewSlack(q.by)]--
			w.total.note("refused", fault, "")
		case len(cards) == 0:
			w.total.note("lost", fault, "%q on %s at %s has no answer, but %q", q.text, on, q.at.Format("15:04:05.000"), words)
		case len(cards) > 1 && w.takenBlindly(q):
			w.total.note("cut off", fault, "")
		case len(cards) > 1:
			w.total.note("doubled", fault, "%q on %s at %s has %d answers", q.text, on, q.at.Format("15:04:05.000"), len(cards))
		}
		for _, c := range cards {
			w.total.answers++
			for _, figure := range q.want {
				if !strings.Contains(c.text, figure) {
					w.total.note("wrong", fault, "%q on %s: want %s in %q", q.text, on, figure, c.text)
				}
			}
		}
		told := 0
		for _, s := range words {
			if strings.Contains(s.text, "is checked by") {
				told++
			}
		}
		if told > 1 {
			w.total.note("doubled", fault, "the check of %q on %s is told %d times", q.text, on, told)
		}
	}
}

// takenBlindly says that a message on Slack was taken by a process that the
// database did not tell for seconds whether another had it: then two may
// answer it.
func (w *weathered) takenBlindly(q *question) bool {
	line := []byte(`msg="not known whether another took the event; taken" surface=slack event=` + q.channel + "/" + q.id + " ")
	return !q.discord && slices.ContainsFunc(w.replicas, func(r *replica) bool {
		return bytes.Contains(r.past, line) || strings.Contains(r.said.All(), string(line))
	})
}

// countChecks: what was checked has one outcome, in the store and on the card.
func (w *weathered) countChecks(store record.Records) {
	for _, q := range w.people.all {
		cards, words := card(w.people.answers(q))
		if len(cards) == 0 {
			continue
		}
		fault := w.before(q.at)
		id := recordName.FindString(cards[0].text)
		r, found, err := store.Record(context.Background(), id)
		if err != nil {
			w.Fatal(err)
		}
		if !found && w.cutOff(q, q.at) {
			w.total.note("cut off", fault, "")
			continue
		}
		if !found {
			w.total.note("lost", fault, "the record %s of %q on %s at %s", id, q.text, q.channel, q.at.Format("15:04:05.000"))
			continue
		}
		if len(r.Numbers) != len(q.want) || fmt.Sprint(int(r.Numbers[0].CorrectedFt)) != q.want[0] {
			w.total.note("wrong", fault, "the record %s of %q holds %v", id, q.text, r.Numbers)
		}
		by := map[string]int{}
		for _, k := range r.Checks {
			by[k.By.Address]++
			if !k.Agrees() {
				w.total.note("wrong", fault, "%s: %s disagrees with the right figures", id, k.By)
			}
		}
		w.total.checks += len(r.Checks)
		for _, who := range slices.Sorted(maps.Keys(by)) {
			if by[who] > 1 {
				w.total.note("doubled", fault, "%s is checked %d times by %s", id, by[who], who)
			}
		}
		if len(r.Checks) > 1 {
			w.total.note("doubled", fault, "%s has %d checks", id, len(r.Checks))
		}
		shows := strings.Contains(strings.ToLower(cards[0].text), "checked by")
		switch {
		case len(r.Checks) > 0 && !shows && w.cutOff(q, q.at):
			w.total.note("cut off", fault, "") // which message is the card was not written
		case len(r.Checks) > 0 && !shows:
			known := w.column("SELECT surface || ' ' || ref || ' shows ' || told || ' of ' || want FROM record_card WHERE record = '" + id + "'")
			w.total.note("wrong", fault, "%s is checked, known cards are %q, and %s reads %q", id, known, cards[0].id, cards[0].text)
		case len(r.Checks) == 0 && shows:
			w.total.note("wrong", fault, "%s is not checked, and its card reads %q", id, cards[0].text)
		case q.attempts == 1 && q.blind && len(r.Checks) == 0 && len(words) > 0:
			w.total.note("refused", fault, "")
		case q.attempts == 1 && q.blind && len(r.Checks) == 0 && w.cutOff(q, q.checked):
			w.total.note("cut off", fault, "")
		case q.attempts == 1 && q.blind && len(r.Checks) == 0:
			w.total.note("lost", fault, "the blind check of %s (%q), told %q", id, q.text, words)
		}
	}
}
