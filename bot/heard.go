package bot

import "firn/bot/reply"

// heardOnly gives what is to be done when a message was answered that was said
// in a thread of the bot's and not to it: what does not read whole is talk among
// people. It gets no answer, and nothing of it is kept.
func (b *Bot) heardOnly(key threadKey, m Message, r *reply.Reply) func() {
	was, had := b.threads.get(key, m.At)
	return func() {
		switch r.Kind {
		case reply.KindQuestion, reply.KindError, reply.KindNote:
		default:
			return
		}
		*r = note()
		b.threads.restore(key, was, had)
	}
}
