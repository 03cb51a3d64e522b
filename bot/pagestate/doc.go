// Package pagestate keeps what stands on the crew-room page, so that it stands
// there after a restart and whichever replica a browser reaches, and tells the
// pages when something that they show has changed.
//
//   - entry.go: Entry, Change, how much is kept
//   - port.go: Store and Feed
//   - listen.go: Listen, which follows a feed through lost connections
//   - memory.go: Memory, both ports in memory
//   - spare.go: Spare, which shows what its store does not take
//
// An entry is the page's: what its body says is known there alone. A store
// knows places, the order in them and their revisions. A place's revision
// grows with each edit, and edits of one place come one after another, so that
// "what changed after revision N" has one answer wherever it is asked.
package pagestate
