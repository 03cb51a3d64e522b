package discord

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"github.com/bwmarrin/discordgo"

	"firn/adapters/testkit/discorddouble"
	"firn/bot/chat"
	"firn/bot/reply"
)

// looked is a message as Discord gives it back.
func looked(t *testing.T, m message) *discordgo.Message {
	t.Helper()
	raw, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	var out discordgo.Message
	if err := json.Unmarshal(raw, &out); err != nil {
		t.Fatal(err)
	}
	return &out
}

// A mark is found on every message that can be posted, is seen on none, and
// nothing that people type is one.
func TestMarks(t *testing.T) {
	mark := markOf(alertKey)
	long := alertPost("").Body
	long.Actions = []reply.Action{{ID: "ack", Label: "Acknowledge", Message: "ack " + strings.Repeat("XKLD ", 30)}, {ID: "why", Label: "Working", Message: "why " + strings.Repeat("8200 ", 17)}}
	full := alertPost("").Body
	for range mostButtons + 5 {
		full.Actions = append(full.Actions, reply.Action{ID: "x", Label: "Do", Message: strings.Repeat("8200 ", 18)})
	}
	for name, c := range map[string]chat.Message{
		"with buttons":              {Reply: alertPost("").Body},
		"closed":                    {Reply: alertPost("").Body, Closed: true},
		"with nothing to press":     {Reply: reply.Reply{Kind: reply.KindNotice, Facts: []string{"XNEW is watched."}}},
		"with nothing in it":        {},
		"with a long line":          {Reply: long},
		"with all buttons that fit": {Reply: full},
		"a stored answer":           crewCard(t, "procedure"),
	} {
		t.Run(name, func(t *testing.T) {
			m := render(c, mark)
			got := looked(t, m)
			if on := markOn(got); on != mark {
				t.Errorf("the mark is %q, want %q in %+v", on, mark, m.Components)
			}
			for _, e := range m.Embeds {
				e.Fields = nil // of long lines, with their hashes
			}
			text := source(m)
			if strings.Contains(text, mark) {
				t.Errorf("the mark is seen in %q", text)
			}
			if on := markOn(looked(t, render(c, markOf(alertKey+"0")))); on == mark {
				t.Error("another key has the same mark")
			}
			if on := markOn(looked(t, render(c, ""))); on != "" {
				t.Errorf("what is no post has the mark %q", on)
			}
		})
	}
	typed := reply.Reply{
		Kind: reply.KindCorrection, Headline: "x", Source: "typed" + keyMark + mark,
		Actions: []reply.Action{{ID: "why", Label: "w", Message: markBegins + mark + ":"}, {ID: markBegins + mark, Label: "x", Message: markBegins + mark + ":m:"}},
	}
	if on := markOn(looked(t, render(chat.Message{Reply: typed, Note: keyMark + mark}, ""))); on != "" {
		t.Errorf("what was typed is taken for a mark: %q", on)
	}
}

// What is pressed on a post is what would be pressed without its mark.
func TestPressedOnPost(t *testing.T) {
	m := looked(t, render(chat.Message{Reply: alertPost("").Body}, markOf(alertKey)))
	row, _ := m.Components[0].(*discordgo.ActionsRow)
	b, _ := row.Components[0].(*discordgo.Button)
	if action, text, ok := pressed(b.CustomID, m); !ok || action != "ack" || text != "ack XKLD" {
		t.Errorf("%q is pressed as %q, %q", b.CustomID, action, text)
	}
	menu := markBegins + markOf(alertKey) + ":" + idMore + ":watch"
	if entry, line, ok := chosen(discordgo.MessageComponentInteractionData{CustomID: menu, Values: []string{"calls"}}); !ok || entry != "calls" || line != "watch" {
		t.Errorf("%q is chosen as %q, %q", menu, entry, line)
	}
}

// A post of an older version, with its mark in the footer, is still found, and
// keeps its mark, unseen, when its card is changed.
func TestOlderPost(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	s := newSurface(t, options(d))
	at := d.Channels()[0]
	for name, footer := range map[string]string{"alert/XKLD/2026-01-15/1": "A planning aid." + keyMark, "alert/XRUN/2026-01-15/1": ""} {
		m := newMessage()
		m.Content = "3 below"
		m.Embeds = append(m.Embeds, &discordgo.MessageEmbed{Footer: &discordgo.MessageEmbedFooter{Text: footer + markOf(name)}})
		var stands discordgo.Message
		path := "channels/" + at + "/messages"
		if err := s.api.call(t.Context(), request{what: "post", method: http.MethodPost, path: path, bucket: path, body: m}, &stands); err != nil {
			t.Fatal(err)
		}
		ref := at + "/" + stands.ID
		find := func(when string) {
			t.Helper()
			if got, found, err := s.Find(t.Context(), "discord:"+at, name); got != ref || !found || err != nil {
				t.Errorf("%s: Find = %q, %v, %v, want %q", when, got, found, err, ref)
			}
		}
		find("as it was posted")
		if err := newSurface(t, options(d)).Change(t.Context(), chat.Ref(ref), chat.Message{Reply: alertPost("").Body}); err != nil {
			t.Fatal(err)
		}
		find("changed")
		if m, _ := d.Message(at, stands.ID); strings.Contains(readable(m), markOf(name)) {
			t.Errorf("the mark is seen in %q", readable(m))
		}
	}
}

// A post in the thread of another is found there after a lost answer, and stands
// there once.
func TestLostAnswerUnder(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	s := newSurface(t, options(d))
	root, err := s.Send(t.Context(), alertPost("discord:"+d.Channels()[0]))
	if err != nil {
		t.Fatal(err)
	}
	_, thread, _ := strings.Cut(root, "/")
	post := alertPost("discord:" + d.Channels()[0])
	post.Key, post.Body = "digest/2026-01-15/2", reply.Reply{Kind: reply.KindNotice, Facts: []string{"XGLN is below as well."}}
	if _, found, err := s.FindUnder(t.Context(), root, post.Key); found || err != nil {
		t.Fatalf("before it was posted: FindUnder = %v, %v", found, err)
	}
	d.Fail(discorddouble.Fault{Method: http.MethodPost, Path: "/messages", Times: 1}) // the thread's
	d.Fail(discorddouble.Fault{Method: http.MethodPost, Path: thread + "/messages", Cut: true, After: true})
	if _, err := s.SendUnder(t.Context(), post, root); err == nil {
		t.Fatal("the answer was not lost")
	}
	d.ForgetNonces()
	ref, found, err := newSurface(t, options(d)).FindUnder(t.Context(), root, post.Key)
	if !found || err != nil || !strings.HasPrefix(ref, thread+"/") || len(d.FromBot(thread)) != 1 {
		t.Errorf("FindUnder = %q, %v, %v; %d posts stand there", ref, found, err, len(d.FromBot(thread)))
	}
	if m := d.FromBot(thread)[0]; strings.Contains(readable(m), markOf(post.Key)) {
		t.Errorf("the mark is seen in %q", readable(m))
	}
}

// Where no thread can be begun a post under another stands in the channel, and is
// found there.
func TestLostAnswerUnderWithoutThreads(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	s := newSurface(t, options(d))
	at := d.Channels()[0]
	d.DenyThreads(at, true)
	root, err := s.Send(t.Context(), alertPost("discord:"+at))
	if err != nil {
		t.Fatal(err)
	}
	post := alertPost("discord:" + at)
	post.Key = "digest/2026-01-15/2"
	d.Fail(discorddouble.Fault{Method: http.MethodPost, Path: "/threads", Status: http.StatusForbidden, Code: 50013})
	d.Fail(discorddouble.Fault{Method: http.MethodPost, Path: "channels/" + at + "/messages", Cut: true, After: true})
	if _, err := s.SendUnder(t.Context(), post, root); err == nil {
		t.Fatal("the answer was not lost")
	}
	d.ForgetNonces()
	ref, found, err := newSurface(t, options(d)).FindUnder(t.Context(), root, post.Key)
	if !found || err != nil || ref == root || len(d.FromBot(at)) != 2 {
		t.Errorf("FindUnder = %q, %v, %v; %d posts stand there", ref, found, err, len(d.FromBot(at)))
	}
}
