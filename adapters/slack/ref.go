package slack

import (
	"strconv"
	"strings"
	"time"

	"firn/bot/chat"
)

// messageRef is where a message stands. As a chat.Ref it is channel/ts, and
// channel/ts/thread for one in a thread: with that any message can be changed
// and followed without asking Slack where it is.
type messageRef struct{ channel, ts, thread string }

func (p messageRef) ref() chat.Ref {
	if p.channel == "" || p.ts == "" {
		return ""
	}
	r := p.channel + "/" + p.ts
	if t := p.inThread(); t != "" {
		r += "/" + t
	}
	return chat.Ref(r)
}

// inThread is the thread of a message that did not begin it.
func (p messageRef) inThread() string {
	if p.thread == p.ts {
		return ""
	}
	return p.thread
}

func refOf(r chat.Ref) (p messageRef, ok bool) {
	parts := strings.Split(string(r), "/")
	if len(parts) < 2 || len(parts) > 3 || parts[0] == "" || parts[1] == "" {
		return messageRef{}, false
	}
	p = messageRef{channel: parts[0], ts: parts[1]}
	if len(parts) == 3 {
		p.thread = parts[2]
	}
	return p, true
}

// direct says that a channel is a direct message: Slack's ids say so.
func direct(channel string) bool { return strings.HasPrefix(channel, "D") }

// timeOf is a timestamp (seconds, a point, six digits) as a time.
func timeOf(ts string) time.Time {
	sec, frac, _ := strings.Cut(ts, ".")
	s, err := strconv.ParseInt(sec, 10, 64)
	if err != nil {
		return time.Time{}
	}
	micro, _ := strconv.ParseInt((frac + "000000")[:6], 10, 64)
	return time.Unix(s, micro*1000)
}

// stamp is a time as a timestamp.
func stamp(t time.Time) string {
	return strconv.FormatInt(t.Unix(), 10) + "." + strconv.Itoa(1000000 + t.Nanosecond()/1000)[1:]
}
