// Package outbox delivers posts that must happen once.
//
// An item is written to the store together with what caused it, under a key.
// From there on it is this package's: it reaches its channel, or somebody can
// see that it did not. In reading order:
//
//   - port.go: Item, Claim, Queue (the store's side), Post, Sender (a
//     surface's side)
//   - errors.go: Permanent and Busy, what a sender can say about a failure
//   - outbox.go: Outbox, its Run loop and the single round Deliver
//   - attempt.go: one claim from lease to mark
//   - breaker.go: a surface's share of the work, and when it is tried again while it is down
//   - settings.go: the figures, with the reasons for their defaults
//   - meter.go: Meter, told of every attempt
//
// # Why nothing comes twice
//
// No queue can mark an item at the instant at which a chat service stores it.
// So an item that may have reached its surface is looked up there by its key
// before it is sent: on every attempt but the first, and on the first where
// the queue says so. Where the lookup fails nothing is sent. One process at a
// time works on an item, under a lease by the store's clock; sending begins
// and ends well inside it, and a claim whose lease was lost is not marked.
//
// # Why nothing is lost
//
// Failures are tried again with growing pauses, or when the service says. An
// item is given up only on a permanent error, or after many attempts and a
// long time; that is logged as an error and stays in the Backlog.
//
// # What it never does
//
// It decides nothing about what is posted, holds no item in memory that is
// not in the store, and lets a surface that is down hold up no other.
package outbox
