package discorddouble

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"time"
)

// interaction is a command, a button or a form, and what became of it.
type interaction struct {
	id, token      string
	kind           int
	channel, guild string
	by             string
	on             string // the message of a button
	began          time.Time
	state          answerState
	original       *Message
	only           bool // what was deferred is for the person alone
	choices        []Choice
	form           *Form
	callbacks      int
}

type answerState uint8

const (
	open     answerState = iota
	deferred             // a wait shows; the first message takes its place
	noted                // a button, acknowledged
	answered
)

// State is how an interaction stands: open, deferred, noted or answered.
func (s *Server) State(id string) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	i := s.interactions[id]
	if i == nil {
		return ""
	}
	return [...]string{"open", "deferred", "noted", "answered"}[i.state]
}

// Age makes an interaction older than it is.
func (s *Server) Age(id string, by time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if i := s.interactions[id]; i != nil {
		i.began = i.began.Add(-by)
	}
}

// tokenLife is how long an interaction can be answered behind its first
// answer.
const tokenLife = 15 * time.Minute

// callback is the first answer to an interaction; it needs s.mu.
func (s *Server) callback(id, token string, data []byte, files map[string]Attachment, withResponse bool) answer {
	i := s.interactions[id]
	var in struct {
		Type int             `json:"type"`
		Data json.RawMessage `json:"data"`
	}
	switch {
	case i == nil || i.token != token || time.Since(i.began) > s.set.Answer && i.state == open:
		if i != nil && i.token == token {
			s.violation("interaction %s was answered after %s", id, time.Since(i.began))
		}
		return refusal(http.StatusNotFound, 10062, "Unknown interaction")
	case i.state != open:
		return refusal(http.StatusBadRequest, 40060, "Interaction has already been acknowledged.")
	case json.Unmarshal(data, &in) != nil:
		s.violation("a callback that cannot be read")
		return refusal(http.StatusBadRequest, 50109, "The request body contains invalid JSON.")
	}
	fits := map[int][]int{4: {2, 3, 5}, 5: {2, 3, 5}, 6: {3, 5}, 7: {3, 5}, 8: {4}, 9: {2, 3}}[in.Type]
	ok := false
	for _, k := range fits {
		ok = ok || k == i.kind
	}
	if !ok {
		s.violation("callback %d for an interaction of type %d", in.Type, i.kind)
		return s.invalid(problems{"type": "Not for this interaction."})
	}
	var flags struct {
		Flags int `json:"flags"`
	}
	if in.Data != nil {
		if err := json.Unmarshal(in.Data, &flags); err != nil {
			return s.invalid(problems{"data": "Not an object."})
		}
	}
	switch in.Type {
	case 4:
		m, bad := s.hookMessage(i, in.Data, files, flags.Flags&flagEphemeral != 0)
		if bad != nil {
			return *bad
		}
		i.original, i.state = m, answered
	case 5:
		i.state, i.only = deferred, flags.Flags&flagEphemeral != 0
	case 6:
		i.state = noted
	case 8:
		var d struct {
			Choices []Choice `json:"choices"`
		}
		if json.Unmarshal(in.Data, &d) != nil || len(d.Choices) > 25 {
			return s.invalid(problems{"data.choices": "Must be 25 or fewer in length."})
		}
		for _, c := range d.Choices {
			if c.Name == "" || length(c.Name) > 100 || length(c.Value) > 100 {
				return s.invalid(problems{"data.choices": "Must be between 1 and 100 in length."})
			}
		}
		i.choices, i.state = d.Choices, answered
	case 9:
		f, bad := readForm(in.Data)
		if len(bad) > 0 {
			return s.invalid(bad)
		}
		i.form, i.state = f, answered
	}
	i.callbacks++
	s.tell()
	if !withResponse {
		return answer{status: http.StatusNoContent}
	}
	out := map[string]any{"interaction": map[string]any{"id": i.id, "type": i.kind}, "resource": map[string]any{"type": in.Type}}
	if in.Type == 4 {
		out["resource"] = map[string]any{"type": 4, "message": s.object(i.original, false, false)}
	}
	return answer{status: http.StatusOK, body: out}
}

// hookMessage makes a message of an interaction.
func (s *Server) hookMessage(i *interaction, data []byte, files map[string]Attachment, only bool) (*Message, *answer) {
	var p payload
	if len(data) == 0 || json.Unmarshal(data, &p) != nil {
		s.violation("a message that cannot be read")
		a := refusal(http.StatusBadRequest, 50109, "The request body contains invalid JSON.")
		return nil, &a
	}
	p.files = files
	bad, rows := p.check()
	if len(bad) > 0 {
		a := s.invalid(bad)
		return nil, &a
	}
	m := &Message{ID: s.id(), Channel: i.channel, Guild: i.guild, Author: s.set.Bot.ID, Hook: true, Flags: p.Flags}
	if i.kind == 3 {
		m.Reply, m.kind = i.on, 19
	} else {
		m.kind = 20
	}
	p.apply(m, rows)
	if m.empty() {
		a := s.emptyMessage()
		return nil, &a
	}
	if only {
		m.Only, m.Flags = i.by, m.Flags|flagEphemeral
	}
	s.add(s.channels[i.channel], m)
	s.announce("MESSAGE_CREATE", m)
	return m, nil
}

// readForm reads a form and what Discord would refuse in it.
func readForm(data []byte) (*Form, problems) {
	bad := problems{}
	var in struct {
		CustomID   string `json:"custom_id"`
		Title      string `json:"title"`
		Components []struct {
			Type       int `json:"type"`
			Components []struct {
				Type        int    `json:"type"`
				CustomID    string `json:"custom_id"`
				Label       string `json:"label"`
				Style       int    `json:"style"`
				Value       string `json:"value"`
				Placeholder string `json:"placeholder"`
				Max         int    `json:"max_length"`
			} `json:"components"`
		} `json:"components"`
	}
	if json.Unmarshal(data, &in) != nil {
		bad.add("data", "Not a form.")
		return nil, bad
	}
	if in.Title == "" || length(in.Title) > 45 {
		bad.add("data.title", "Must be between 1 and 45 in length.")
	}
	if in.CustomID == "" || length(in.CustomID) > 100 {
		bad.add("data.custom_id", "Must be between 1 and 100 in length.")
	}
	if len(in.Components) < 1 || len(in.Components) > 5 {
		bad.add("data.components", "Must be between 1 and 5 in length.")
	}
	f := &Form{Title: in.Title, CustomID: in.CustomID, Values: map[string]string{}, Labels: map[string]string{}}
	for i, row := range in.Components {
		at := fmt.Sprintf("data.components.%d", i)
		if row.Type != 1 || len(row.Components) != 1 || row.Components[0].Type != 4 {
			bad.add(at, "A row with one text input is wanted.")
			continue
		}
		t := row.Components[0]
		switch {
		case t.Label == "" || length(t.Label) > 45:
			bad.add(at+".label", "Must be between 1 and 45 in length.")
		case t.Style != 1 && t.Style != 2:
			bad.add(at+".style", "Unknown.")
		case length(t.Placeholder) > 100:
			bad.add(at+".placeholder", "Must be 100 or fewer in length.")
		case t.Max < 0 || t.Max > 4000 || t.Max > 0 && length(t.Value) > t.Max:
			bad.add(at+".value", "Longer than its limit.")
		case t.CustomID == "" || length(t.CustomID) > 100:
			bad.add(at+".custom_id", "Must be between 1 and 100 in length.")
		}
		if _, twice := f.Values[t.CustomID]; twice {
			bad.add(at+".custom_id", "Component custom id cannot be duplicated")
		}
		f.Values[t.CustomID], f.Labels[t.CustomID] = t.Value, t.Label
	}
	return f, bad
}

// hook answers the calls under webhooks/: what follows the first answer.
func (s *Server) hook(q *call) answer {
	i := s.interactions[q.path[2]]
	if i == nil || q.path[1] != s.set.Bot.ID {
		return refusal(http.StatusNotFound, 10015, "Unknown Webhook")
	}
	if time.Since(i.began) > tokenLife {
		return refusal(http.StatusUnauthorized, 50027, "Invalid Webhook Token")
	}
	if i.state == open {
		s.violation("an interaction was followed up before it was answered")
		return refusal(http.StatusNotFound, 10015, "Unknown Webhook")
	}
	if len(q.path) == 3 && q.method == http.MethodPost {
		var flags struct {
			Flags int `json:"flags"`
		}
		_ = json.Unmarshal(q.data, &flags) // hookMessage says what is wrong
		only := flags.Flags&flagEphemeral != 0
		if i.state == deferred {
			only = i.only // the first takes the place of the wait, as that was seen
		}
		m, bad := s.hookMessage(i, q.data, q.files, only)
		if bad != nil {
			return *bad
		}
		if i.state == deferred {
			i.original = m
		}
		i.state = answered
		return answer{status: http.StatusOK, body: s.object(m, false, false)}
	}
	if len(q.path) != 5 || q.path[3] != "messages" {
		return refusal(http.StatusNotFound, 0, "404: Not Found")
	}
	m := i.original
	if q.path[4] != "@original" {
		m = s.find(i.channel, q.path[4])
	}
	switch {
	case q.method == http.MethodPatch && q.path[4] == "@original" && i.state == deferred:
		m, bad := s.hookMessage(i, q.data, q.files, i.only)
		if bad != nil {
			return *bad
		}
		i.original, i.state = m, answered
		return answer{status: http.StatusOK, body: s.object(m, false, false)}
	case q.method == http.MethodDelete && q.path[4] == "@original" && i.state == deferred:
		i.state = answered
		s.tell()
		return answer{status: http.StatusNoContent}
	case m == nil:
		return refusal(http.StatusNotFound, 10008, "Unknown Message")
	}
	switch q.method {
	case http.MethodGet:
		return answer{status: http.StatusOK, body: s.object(m, false, false)}
	case http.MethodDelete:
		s.remove(m.Channel, m.ID)
		return answer{status: http.StatusNoContent}
	case http.MethodPatch:
		return s.patch(m, q)
	}
	return refusal(http.StatusMethodNotAllowed, 0, "405: Method Not Allowed")
}

func (s *Server) emptyMessage() answer {
	s.violation("a message with nothing in it")
	return refusal(http.StatusBadRequest, 50006, "Cannot send an empty message")
}

// invalid is what Discord says to a body that it does not take.
func (s *Server) invalid(bad problems) answer {
	errs := map[string]any{}
	for field, text := range bad {
		s.violation("%s: %s", field, text)
		at := errs
		for _, name := range strings.Split(field, ".") {
			next, ok := at[name].(map[string]any)
			if !ok {
				next = map[string]any{}
				at[name] = next
			}
			at = next
		}
		at["_errors"] = []any{map[string]any{"code": "INVALID", "message": text}}
	}
	return answer{status: http.StatusBadRequest, body: map[string]any{"code": 50035, "message": "Invalid Form Body", "errors": errs}}
}
