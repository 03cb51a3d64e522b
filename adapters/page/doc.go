// Package page is the crew-room page: a person with a browser and no chat
// account asks, reads, checks, and sees at a glance which bases are cold today.
// It is a chat.Surface and an outbox.Sender, whose service is the browser.
//
// In reading order:
//
//   - page.go: Page, Options, the ports that cmd/wiring fills, the routes
//   - guard.go, limit.go: what every request passes: headers, limits, who it is from;
//     hangup.go: a browser that went away is no error
//   - visitor.go, enter.go: who: a browser on this machine, or one that came in
//     by a link
//   - talk.go: the cards of the conversations and the posts, and how they are kept
//   - surface.go: the two ports
//   - acts.go: forms sent, made into events for the dispatcher
//   - views.go, records.go, procedures.go: the pages; find.go: the log's field;
//     mine.go: what waits for whom
//   - card.go, figs.go, board.go, spark.go: what a reply, two people's figures, a base
//     and its day look like; basestate.go: the
//     state that a base is in; boardpages.go: the board's page and a base's;
//     known.go: what the board knows of them; look.go: dim red
//   - hub.go, live.go: what changes, and server-sent events
//   - clean.go: typed text made fit to be shown; aged.go: how old something is by now;
//     own.go: what an author is offered
//
// A page works without its script; with it, it is brought up to date as things
// happen, says so when it is not (a beat that is missing, a watch that does not
// look), sends nothing where nobody takes it, and keeps the last answer in the
// browser (assets/sw.js). The board's state is the worse of what is forecast and
// what is observed. The contact sheet (sheet_test.go) has every page at every
// width and in every light, to be looked at. The script, the style and everything else comes from here, nothing
// is inline, and every text that somebody typed is shown as text.
//
// Conversations and posts are in the store (pagestate.Store), which all replicas
// share: a browser may reach another one with each request. A process keeps
// only counts of what changed, which wake the streams; what it shows it reads.
package page
