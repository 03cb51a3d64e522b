// Package record keeps every result, has a second person check it, and notices
// when it holds no longer. In reading order:
//
//   - record.go: Record: what was made (for ever as it is) and what was done
//     to it since; its states; settings.go: what a unit decides
//   - name.go: names that people can say aloud
//   - decide.go, compare.go: who may check what, and which figures agree
//   - notice.go: whether newer weather changes a result
//   - render.go: the card that a result is shown as
//   - chain.go: the history, each entry with the hash of the one before
//   - port.go: Records, Marks and History, the store's side; Cards, the
//     surfaces'
//   - book.go, writebehind.go: Book: what the bot talks to; results are written
//     just behind the answers, many in one transaction
//   - unkept.go: results that the store does not take, and their cards
//   - sweep.go: Sweep, each minute on one replica, in its steps: results expire,
//     are held against newer weather, their cards are put right, old ones go
//   - round.go: which results a round reads, by what is new and where the
//     weather is not what it was
//   - hold.go, field.go: one result, or brief, held against the weather, and against
//     its station in the configuration
//   - tell.go, outdated.go: cards that do not show yet what happened; what is told
//     of results that hold no longer
//   - table.go, export.go: the columns of the export, and who writes them
//
// # One outcome each
//
// An action (a check, its withdrawal, a notice, a new version) is decided by
// Decide from a record as it was read, and applied by the store only if the
// record is still at that revision. Who comes second reads again and is told
// what happened first. That holds for two presses at once, for a press that is
// delivered twice, and for two replicas.
//
// # What a crash can cost
//
// Nobody waits for the disk: an answer is given, and written within a moment.
// An action is on the disk before it is told, so that a crash never takes one
// back. Of answers it can cost this:
//
//   - A process that is killed in that moment loses the record of its last
//     answers. A message is done (chat.Settings.Done) only when its record and
//     its card are written (Written), and whoever gets the message again has
//     them made: another replica, which has Once and Hold for that, or this
//     process when Slack sends again what was not acknowledged. The answer that
//     stands is found and not repeated.
//   - Nobody gets it again when Slack had its acknowledgement, which waits no
//     longer than a second and a half for the answer, or when it came by Discord,
//     which sends nothing twice, and the only process that had it is killed. Then
//     there is no answer, or a card whose name is not known, or one that stays
//     as it was first shown.
//   - A store that does not answer is waited for two minutes; a full disk, which
//     can be read, four seconds. Their cards say so meanwhile. After that the
//     records that waited are given up, with an error in the log each.
//   - A service that takes an answer and loses its own word for it is asked
//     again, for a quarter of a minute. What is still in doubt then, and what
//     stands below a button or came of a command, is a card that nobody knows:
//     it stays as it was first shown.
//
// What stays as it was first shown reads "unchecked", says until when it is
// valid, and is told of no newer weather. The record itself is right.
//
// # What people see
//
// The store keeps for each card (a message on a surface) the revision that it
// shows. A card that is behind its record is changed in place, at once and in
// every round until the service takes it; that can be done any number of
// times, and nobody is told. What newer weather changed is told by the outbox
// (Outdated): one post a channel and base, and one message to each person who
// asked or checked. Its key is the base and the round, so that whoever starts
// after a kill tells it again, once.
//
// # The history
//
// Every record made and every action is an entry. An entry is JSON as
// encoding/json writes the struct (fields in their order, no spaces, times in
// UTC), and holds the SHA-256 of the entry before it; a record's entry holds
// the SHA-256 of the record as it was made. One chain a store: entries are
// appended one after another within the transaction that does the action. Old
// records go with their entries, from the front; an entry then says up to
// where and with which hash, so that the rest can still be proved.
package record
