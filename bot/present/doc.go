// Package present decides how a reply is shown: in which order, what stands
// on the screen, what is folded behind "More", and what a locked screen shows.
//
// Of makes of every kind of reply one Document out of typed blocks. Surfaces
// draw blocks, each in its own way, and read no words of the reply: a new kind
// of reply, or another order, needs no surface. Documents are never stored;
// what is stored is the reply, and an old one is presented from its JSON.
//
//   - block.go: the blocks, and what a surface draws
//   - present.go: Of, by the kind of reply
//   - answer.go: corrections and the status of a field
//   - others.go, digest.go, mine.go: briefs, the watch, alerts, lists; a channel's
//     morning; what concerns one person
//   - controls.go: what can be done with a reply
//   - table.go: the cells of a table, and its lines of fixed width; compact.go: a working
//     made shorter
//   - notice.go: the first words, for a locked screen
package present
