// Package bot is the crew's helper itself: a message in, a platform-neutral
// reply out.
//
// One message: a surface in adapters makes a Message (where it stands, who
// wrote it, the text, when it came) and calls Bot.Handle. Package parse reads
// the text; a follow-up is read with the request that its thread holds.
// resolve.go looks up the station, checks the altitudes against it and makes
// the engine's input; engine/ruleset evaluates it; package reply builds the
// answer, and the surface renders it. What cannot be answered comes back as a
// reply too, with the word that is wrong and the line to type instead.
//
//   - bot.go: Handle, and what each verb does
//   - resolve.go: from a request to the engine's input, or a question
//   - checking.go, recompute.go: the verbs of the record, and its lines
//     computed again
//   - printing.go: the card to print, and pictures, of a result
//   - team.go: a result shown to the team
//   - thread.go: what was asked last in each thread
//   - parse, reply, config, spelling: the packages below
package bot
