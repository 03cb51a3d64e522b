package config

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/goccy/go-yaml/ast"

	"firn/bot/strictyaml"
	"firn/engine"
)

func (r *reader) watch(n ast.Node) *Watch {
	w := &Watch{Days: Daily, Window: DefaultWindow, Margin: DefaultMargin}
	var at ast.Node
	ok := r.Mapping(n, "watch", watchKeys, func(key string, v ast.Node) {
		switch key {
		case "at":
			at = v
			w.At = r.timeOfDay(v, key)
		case "days":
			w.Days = r.days(v, key)
		case "window_hours":
			h, _ := r.Between(v, key, strictyaml.InHours, ShortestWindow.Hours(), LongestWindow.Hours())
			w.Window = time.Duration(h * float64(time.Hour))
		case "margin_c":
			m, _ := r.Between(v, key, strictyaml.InKelvins, 0, 20)
			w.Margin = engine.CelsiusDelta(m)
		case "channels":
			w.Channels = r.addresses(v, key)
		}
	})
	if ok && at == nil {
		r.Add(n, `the watch has no time; add the local one, such as "at: \"06:00\""`)
	}
	return w
}

func (r *reader) alerts(n ast.Node) Alerts {
	a := DefaultAlerts
	var escalate ast.Node
	minutes := func(v ast.Node, key string, low, high float64) time.Duration {
		m, _ := r.Between(v, key, strictyaml.InMinutes, low, high)
		return time.Duration(m * float64(time.Minute))
	}
	r.Mapping(n, "alerts", alertKeys, func(key string, v ast.Node) {
		switch key {
		case "recheck_minutes":
			a.Recheck = minutes(v, key, 5, 720)
		case "step_c":
			s, _ := r.Between(v, key, strictyaml.InKelvins, 0.5, 20)
			a.Step = engine.CelsiusDelta(s)
		case "repeat_minutes":
			a.Repeat = minutes(v, key, 5, 720)
		case "escalate_minutes":
			escalate = v
			a.Escalate = minutes(v, key, 5, 720)
		case "daily_quiet":
			a.DailyQuiet = r.Boolean(v, key)
		case "digest":
			a.Digest = r.Boolean(v, key)
		case "disagree_c":
			d, _ := r.Between(v, key, strictyaml.InKelvins, 0.5, 30)
			a.Disagree = engine.CelsiusDelta(d)
		case "kept_hours":
			h, _ := r.Between(v, key, strictyaml.InHours, 1, 72)
			a.Kept = time.Duration(h * float64(time.Hour))
		}
	})
	if escalate != nil && a.Escalate > 0 && a.Repeat > a.Escalate {
		r.Add(escalate, "\"escalate_minutes\" must not be less than the %s minutes of repeat_minutes: an alert is repeated before it is escalated", strictyaml.Plain(a.Repeat.Minutes()))
	} else if escalate == nil && a.Repeat > a.Escalate {
		a.Escalate = 2 * a.Repeat
	}
	return a
}

func (r *reader) timeOfDay(n ast.Node, key string) TimeOfDay {
	s, ok := r.Word(n, key, `a local time, such as "06:00"`)
	if !ok {
		return TimeOfDay{}
	}
	m := clock.FindStringSubmatch(s)
	if m == nil {
		try := `a time such as "06:00"`
		if l := looseClock.FindStringSubmatch(s); l != nil {
			try = `"` + strings.Repeat("0", 2-len(l[1])) + l[1] + ":" + l[2] + `"`
		}
		r.Add(n, "%q must be a local time HH:MM from 00:00 to 23:59, not %s; write %s", key, strictyaml.Quote(s), try)
		return TimeOfDay{}
	}
	hour, _ := strconv.Atoi(m[1])
	minute, _ := strconv.Atoi(m[2])
	return TimeOfDay{hour, minute}
}

func (r *reader) days(n ast.Node, key string) Days {
	names := make([]string, 0, len(dayNames)+1)
	for _, d := range dayNames {
		names = append(names, d.name)
	}
	names = append(names, daily)
	var days Days
	one := func(e ast.Node) {
		s, ok := r.Choice(e, "day", names)
		if !ok {
			return
		}
		add := Daily
		if i := slices.Index(names, s); i < len(dayNames) {
			add = 1 << dayNames[i].day
		}
		if days&add != 0 {
			r.Add(e, "day %q is given twice; remove one of them", s)
		}
		days |= add
	}
	if s, ok := strictyaml.Literal(n); ok && s == daily {
		return Daily
	}
	r.List(n, key, "[mon, tue, wed, thu, fri] or daily", one)
	if s, ok := n.(*ast.SequenceNode); ok && len(s.Values) == 0 {
		r.Add(n, "%q is empty; write [mon, tue, wed, thu, fri] or daily, or remove the line", key)
	}
	return days
}

var clock = regexp.MustCompile(`^([01][0-9]|2[0-3]):([0-5][0-9])$`)

// looseClock is a time that was meant.
var looseClock = regexp.MustCompile(`^([01]?[0-9]|2[0-3])[:.h]?([0-5][0-9])$`)
