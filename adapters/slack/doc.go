// Package slack is firn on Slack: Socket Mode in, Web API out, replies as
// Block Kit. It is a chat.Surface with a front page (App Home), and the
// outbox.Sender of channels written slack:ID.
//
// In reading order:
//
//   - options.go: what it is set up with; tokens that do not show themselves
//   - surface.go: New, Run, State; try.go: are the tokens taken?
//   - socket.go: the connections, acknowledgements before any work
//   - event.go, interact.go, text.go: what Slack sends, as a chat.Event
//   - people.go, threads.go, memo.go: names, user groups, threads the bot is in
//   - answer.go, unfold.go, form.go, confirm.go: the port's methods
//   - render.go, compose.go: a document's blocks as Slack's, and the one message
//     that a card is
//   - post.go, ref.go, picture.go: cards put on a channel, once
//   - sender.go: the outbox's posts
//   - call.go, gate.go, fault.go, http.go: calls, rate limits, errors, tokens
//   - manifest.yaml: the app as Slack installs it, with the least rights
//
// adapters/testkit/slackdouble is a stand-in for Slack, for tests and load programs.
//
// It never decides who may do what (bot/chat does), never logs text of crews,
// and never lets a token into a log line or an error.
package slack
