// Package discord is firn on Discord: people ask by mention, direct message,
// /firn or form, and the watch's alerts stand in its channels with buttons.
//
// In reading order:
//
//   - discord.go: Options, the Surface and its State; try.go: is the token taken?
//   - gateway.go: the connection that brings events, kept and resumed;
//     throttle.go paces what discordgo sends on it; shard.go which part of it is
//     this process's
//   - events.go: messages and edits as chat.Event; places.go knows what is a
//     thread and which messages belong to one conversation; members.go who somebody is
//   - interaction.go: commands, buttons and forms, each answered within 3 s;
//     commands.go what /firn offers; form.go the form and the way back to it
//   - answer.go: the chat.Surface, what a thread is called; earlier.go finds the answer of another
//     process; sender.go: the outbox.Sender
//   - render.go: a card as its one message, and what lies behind More; draw.go a
//     document's blocks, controls.go buttons and menu, mark.go how a post is known
//     again, text.go what escapes
//   - api.go: calls of the REST interface; pace.go how often, fault.go what went
//     wrong with one
//
// discordgo carries the gateway and every request; its package variables are
// left alone but for the version of the interface, which is set once. The
// address of the service is a field of each Surface: requests are made with
// whole URLs, and the one that discordgo makes by itself (where is the
// gateway) is sent to the right server by the HTTP client.
//
// # What it needs
//
// Scopes bot and applications.commands. Permissions: View Channels, Send
// Messages, Send Messages in Threads, Create Public Threads, Embed Links,
// Attach Files, Read Message History. Without Create Public Threads an answer
// is a reply to the question in the channel; without Read Message History
// neither the outbox nor the answer to a message that came again sees what stands
// already once Discord has forgotten its nonce (a few minutes).
//
// # What costs a call
//
// A plain answer is two: its thread and its message. What only asks back is one, a
// reply to the message in the channel; an answer to that reply begins the thread
// under the first message. Looking for an earlier
// answer is two more, for a message that was said before this process began, or
// that another one had.
//
// Intents: guilds, guild messages, direct messages. The privileged message
// content intent is asked for only with Options.Mentions. Without it,
// mentions, replies to the bot's messages (with the ping that Discord adds),
// direct messages, commands, buttons and forms work; a follow-up in a thread
// then needs the mention.
//
// # What it never does
//
// It decides nothing about who may do what, and no text of it can ping
// anybody: every message carries allowed_mentions with nothing allowed.
package discord
