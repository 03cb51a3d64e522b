// Package bot is the crew's helper itself: a message in, a platform-neutral
// reply out. Bot.Handle is one call; what it needs besides it is given as Ports.
//
//   - bot.go: Handle, and what each verb does; ports.go: the Ports; duty.go:
//     what a duty officer does
//   - thread.go, shared.go, heard.go: what was asked last in each thread, also
//     by another process; follow.go, chosen.go: a follow-up, an answer to a
//     question, asked.go: a question told again, and what takes back a part of
//     an answer; readback.go, takenback.go, reread.go, reobserved.go: figures said again, and what is said
//     to have been right
//   - resolve.go: from a request to the engine's input, or a question; typed.go,
//     choose.go, beside.go, fixes.go: its altitudes, those of the stored
//     procedure, the way in, and both together; unread.go: files that could not
//     be read
//   - finding.go, listed.go: fields by name, by distance, by restriction
//   - brief.go, briefs.go, visit.go, hours.go, route.go: arrivals and ways
//   - checking.go, worked.go, recompute.go, logged.go: the verbs of the record;
//     home.go: what of it concerns one person
//   - printing.go, team.go, help.go, offers.go, picks.go: to paper, to the team, what can be
//     typed, and what is offered meanwhile
//   - the packages below: parse, config, reply, present, record, watch, outbox,
//     weather, chat, and app, which puts them together and runs them
//
// DEVELOPERS.md tells the way of one message, of one result and of one alert through
// these packages.
//
// A console and the command line call Handle themselves. What cannot be answered
// is a reply as well: the word that is wrong, and the line to type instead; an
// error is for what a crew can do nothing about, and Dispatcher says it plainly.
package bot
