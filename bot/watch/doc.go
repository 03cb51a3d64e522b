// Package watch is the morning cold watch: at each base's local hour it holds
// the forecasts of the coming duty window against the restriction temperature
// and tells people, once.
//
// In reading order:
//
//   - port.go: Alert, Ack and Day as they are kept; the Store and the
//     Forecaster that the watch needs
//   - settings.go: the figures and what bot/app hands in
//   - calendar.go: a base's local days and the instants at which they begin,
//     over every change of the clocks
//   - due.go: what is due for one base on one day, out of what is stored and
//     the time, and nothing else
//   - watch.go: New and Tick: a minute's work on every base
//   - say.go: that work, a function a dueStep: what is opened, amended, repeated
//   - judge.go: the forecasts held against the line; who has looked just now
//   - words.go: from an alert to the reply and the posts of one transaction
//   - digest.go: a channel's bases gathered into one morning; digestposts.go:
//     what is posted of it
//   - answer.go: Acknowledge and Snooze, with what to tell the person
//   - status.go: Status, every base as of a time, with until when it is snoozed;
//     it stores nothing; next.go: the next mornings, seen.go: who has seen an
//     alert, drawn.go: what a picture of a day needs
//
// A day of a base is a line of alerts, numbered from 1. The first is the
// morning's word whatever the state; a clear one is stored without posts
// unless daily_quiet is on, so that it can be amended. The next number is
// always taken by writing alert and posts in one transaction: any replica,
// after any restart, comes to the same number and one of them wins.
//
// What the watch never does: take no forecast for warm; send anything itself
// (the outbox does); remember anything that a restart would change. What it
// keeps in memory only spares the sources and the store a question.
package watch
