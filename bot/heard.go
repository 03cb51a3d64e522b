package bot

import (
	"firn/bot/parse"
	"firn/bot/reply"
)

// deedThere says that a duty officer's deed lacks its base alone, in a thread that
// no answer stands in: there stands an alert, and who says "ack" under it means it.
func (b *Bot) deedThere(key threadKey, req *parse.Request, problem *parse.Problem, m Message) bool {
	return m.Duty && req.Verb.OnDuty() && problem != nil && problem.Try != "" && !b.threads.answers(key)
}

// heardOnly is the reply to a message that was said in a thread of the bot's and not
// to it, which had been as it was: what does not read whole is talk among people. It
// gets no answer, and nothing of it is kept.
func (b *Bot) heardOnly(key threadKey, was thread, had bool, r reply.Reply) reply.Reply {
	switch r.Kind {
	case reply.KindQuestion, reply.KindError, reply.KindNote:
		b.threads.restore(key, was, had)
		return note()
	}
	return r
}
