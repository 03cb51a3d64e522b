// Package bot is the crew's helper itself: a message in, a platform-neutral
// reply out. Bot.Handle is one call; what it needs besides it is given as Ports.
//
//   - bot.go: Handle, and what each verb does; ports.go: the Ports; duty.go:
//     what a duty officer does
//   - thread.go, shared.go, heard.go: what was asked last in each thread, also
//     by another process; follow.go, chosen.go: a follow-up, an answer to a
//     question, asked.go: a question told again, and what takes back a part of
//     an answer; readback.go, takenback.go: figures said again, and what is said
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
// # The way of one message
//
// Each package is entered once on the way out and once on the way back, but for
// parse, which the dispatcher asks too (may they?), and record, which is told
// at the end which card shows the result:
//
//	adapters/slack …   the service's event becomes a chat.Event
//	  chat             Dispatcher.Handle: is it answered here, whose is it of
//	                   several replicas (Taking), too much, may they (rights.go)
//	    app            counts what comes of it
//	      bot          Handle: the thread's request, the station, its weather
//	        parse      the text to a Request, or a Problem with a line to type
//	        engine     ruleset.Evaluate: the altitudes
//	        reply      the answer as data
//	        record     Book.Make: its name; it is written behind the answer
//	      bot          Book.Render: the answer with its record
//	    app            the picture that was asked for
//	  chat             Surface.Answer; then Book.Shown: which card shows it
//	adapters/slack …   present.Of, block by block
//	  chat             Done: when result and card are written, the event is done
//
// A console and the command line call Handle themselves. What cannot be answered
// is a reply as well: the word that is wrong, and the line to type instead; an
// error is for what a crew can do nothing about, and Dispatcher says it plainly.
//
// # The way of one result
//
//	bot                keep: the line that asks the same again, who, where
//	  record           Make, writebehind.go: many results in one transaction, each
//	                   with its entry in the history; what the store does not
//	                   take says so on its card (unkept.go)
//	chat               Shown: the card, which the store keeps with its revision
//
//	chat               somebody presses "Check"
//	  bot              the action, and whose
//	    record         Do: Decide, pure; the store applies it to the revision
//	                   that was read, or it is decided anew
//	  record           Run: every card that is behind is changed (app: cards.go)
//
//	app                each minute, on one replica: Book.Sweep
//	  record           live results against newer weather, those whose time is
//	                   over; what they changed is said on their cards
//
// # The way of one alert
//
//	app                each minute, on one replica (adapters/scheduler)
//	  watch            Tick: each base's local day from the store; due.go says
//	                   what it asks for, from what is stored and nothing else
//	    weather        the sources in order; what came is archived
//	    engine         coldwatch.Judge, pure
//	    reply          Alert: the words
//	  watch            Store.Open: the alert, in one transaction with its posts,
//	                   under the key base, day, number; digest.go: one post a
//	                   channel and morning, of what stands in the store
//	outbox             Run: claims, asks the surface for the key from the second
//	                   attempt on, sends, marks
//	  adapters/…       Send: it stands in the channel
//	app                the bases are looked at again, and open pages told (rounds.go)
//
// Nobody acknowledges: the next tick opens the next number.
package bot
