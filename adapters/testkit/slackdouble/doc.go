// Package slackdouble is a stand-in for Slack on loopback: its Web API, the
// websockets of Socket Mode, its people, and its faults on demand.
//
//   - server.go: Start, tokens, what is kept
//   - socket.go: connections, envelopes, acknowledgements, redelivery
//   - people.go: what people do (Say, Edit, Press, Submit, Command, ...)
//   - web.go: the methods that a bot calls; limits.go: how often
//   - check.go: what Slack refuses in blocks and views
//   - read.go: what people see
//   - faults.go: 429, 5xx, slow and lost answers, cut and renewed sockets
//
// It is strict where Slack is, and where Slack only warns it notes a problem:
// a test ends with none (Problems). It was written from Slack's published
// reference (docs.slack.dev), not from its behaviour; what the reference leaves
// open is allowed.
//
// Tests of package slack use it, and so do tests of whole processes and load
// programs: it needs no *testing.T.
package slackdouble
