package chat

import (
	"context"
	"strconv"
	"time"

	"firn/bot"
	"firn/bot/present"
	"firn/bot/reply"
)

// Place is where something happened on a surface.
type Place struct {
	Home    string // the workspace or server; empty in a direct message of a service that has none there
	Channel string // the service's id of the channel or direct message
	Thread  string // the service's id of the thread; empty: not in one
	// Begins is, for a message or card outside a thread, the id that the thread
	// under it has or will have: Thread of the follow-ups. Empty: none can come.
	Begins string
	Direct bool // nobody but the person and the bot reads it
	// Open says that what is asked there is for the unit all the same, as on a
	// page where all look results up.
	Open bool
}

// Person is who did something.
type Person struct {
	ID     string
	Name   string   // for people to read; may be empty, then ID is shown
	Groups []string // ids of the Slack user groups or Discord roles, where the service says so
	// Via tells apart what the person used, where the surface takes whatever
	// name is typed; else empty.
	Via string
	// Standing is whether the person is one of those whom firn is for.
	Standing Standing
	// NoDuty says that the surface knows that the person may not do what duty
	// officers do, whoever else may.
	NoDuty bool
}

// Standing is whether somebody belongs to the unit, as the service tells.
type Standing uint8

// The standings. A surface that only members reach has no others.
const (
	Member   Standing = iota
	Outsider          // a guest, somebody of another organisation, a stranger
	Unsure            // the service does not say just now
)

// Ref names a message on its surface for ever, also after a restart. Only the
// surface knows what is in it. The outbox's references are Refs.
type Ref string

// Kind is what happened.
type Kind uint8

// The kinds of event.
const (
	MessagePosted Kind = iota + 1 // a message to the bot: mention, direct message, command, follow-up in its thread
	Edited                        // such a message was changed; Message names it
	Pressed                       // a button; Text is the message of its reply.Action, Message the card that has it
	FormRequested                 // the form was asked for (button, command without a message, shortcut); Text may prefill it
	Submitted                     // the form was sent; Fields has what was filled in
	HomeOpened                    // the surface's own front page for the person was opened
	Deleted                       // a message is gone; Message names it, ID is that of its event and DeletedID behind it
	Unfolded                      // an entry under More; Fields has its id, Message the card, Text its present.Controls.Line
)

// DeletedID ends the id of a deletion.
const DeletedID = "/deleted"

// Event is one thing that a person did.
type Event struct {
	// ID is the deed's own: an event that is delivered again, even by another
	// connection, has the same. A mention that arrives in two forms is one.
	ID      string
	Kind    Kind
	Place   Place
	Person  Person
	Message Ref    // the message said or edited; the card of a button
	Text    string // plain: mentions of the bot taken out, the service's escapes undone
	Fields  map[string]string
	At      time.Time // when it was done, by the service's clock where it says so
	// Unmentioned says that it was said where the bot takes part, and not to the
	// bot: it is answered only where it reads whole.
	Unmentioned bool
	// Alone says that an answer can be shown here to the person alone.
	Alone bool
	// Sure says that the person has the figures before them that the deed is about.
	Sure bool
	// Waits says that the person sees a place where the answer will be, and is
	// answered also where there is nothing to say.
	Waits bool
	// Again says that it may have been answered before, by a process that was
	// killed: what stands already is looked for, and not shown twice.
	Again bool
	// Sole says that the service tells this process alone of it, Paired that it
	// tells of it twice, each time one process.
	Sole, Paired bool
	// Handle is the surface's own way back to this event (a trigger, a response
	// address, an interaction). The dispatcher passes it on and never looks.
	Handle any
}

// Message is what is shown. Everything in it may hold text that people typed: a
// surface shows it as text, and nothing in it may ping anybody.
type Message struct {
	Reply    reply.Reply
	Note     string    // a line above the reply, such as that it is late; may be empty
	Pictures []Picture // shown with it, where the service can
	Files    []File    // to keep or to print, shown with it where the service can
	Closed   bool      // no buttons any more
	// ForAll says that it is for everybody, also where what it answers is seen by
	// one person alone.
	ForAll bool
	// NotTaken says that firn does not take what was sent just now: its sender still
	// has it, and is to send it again. It is nothing to keep.
	NotTaken bool
	// Awaited says that somebody waits for it: it goes before what firn changes by
	// itself, however much of that there is.
	Awaited bool
}

// Picture is a PNG with what it shows in words.
type Picture struct {
	Name string // file name, such as profile.png
	Alt  string
	PNG  []byte
}

// File is one to keep or to print.
type File struct {
	Name string // such as KALOMI-RUTA.pdf
	Type string // its media type
	Alt  string // what it shows, in words
	Data []byte
}

// Surface is a chat service as the dispatcher uses it. Every method ends with its
// context, waits out the service's own Retry-After where the context leaves
// time for it, is safe for concurrent use, and keeps tokens out of its errors.
type Surface interface {
	// Name is the first part of its addresses: slack, discord, page, console.
	Name() string
	// Answer shows a card where an answer to the event belongs: in the thread
	// of a message in a channel (a new one for a message outside a thread), in
	// line in a direct message, in place of what a command or a form left open.
	// What is longer than the service takes is split sensibly; ref is the
	// message that carries the buttons.
	Answer(ctx context.Context, e Event, c Message) (ref Ref, err error)
	// Whisper shows a card to the event's person alone where the service can
	// do that for this event, else like Answer.
	Whisper(ctx context.Context, e Event, c Message) error
	// Change puts another card in the place of one.
	Change(ctx context.Context, ref Ref, c Message) error
	// Follow shows a card in the thread of one (in line in a direct message).
	Follow(ctx context.Context, ref Ref, c Message) (Ref, error)
	// Open shows the form as the answer to an event. Errors by field name make
	// it the form sent back: what was filled in stays. A surface that cannot
	// show a form with Enter gives an error.
	Open(ctx context.Context, e Event, f Form) error
}

// Fronted is a Surface that has a front page for each person.
type Fronted interface {
	Surface
	Knowing
	Front(ctx context.Context, e Event, c Message) error
}

// Knowing is a Surface that says who somebody is without an event of theirs, so
// that they can be shown or told what comes later. It may answer from what it
// learnt some minutes ago.
type Knowing interface {
	Who(ctx context.Context, p Person) Person
}

// Foreseeing is a Surface that knows before it shows an answer where it will stand:
// the record is kept with its card then, and a kill just after leaves no card that
// does not follow its record. Empty: it does not know of this event.
type Foreseeing interface {
	Surface
	Foresee(e Event) Ref
}

// Confirming is a Surface that has a form for a question which is answered with
// one button: the card's only action. It may say that it cannot show one for this
// event: the card is whispered then.
type Confirming interface {
	Surface
	Confirm(ctx context.Context, e Event, c Message) error
}

// Naming is a Surface that knows what people are called who have done nothing yet.
type Naming interface {
	Surface
	// NameOf is the name of whom an id stands for; empty where the service does not
	// say it, or the id is a group's.
	NameOf(ctx context.Context, id string) string
}

// Unfolding is a Surface that has More: the entries of present.Controls, of
// which it hands on which was chosen, as Unfolded.
type Unfolding interface {
	Surface
	// Unfold shows to the event's person alone what lay behind More.
	Unfold(ctx context.Context, e Event, p Part) error
}

// Part is what lay behind More.
type Part struct {
	Title    string
	Blocks   []present.Block
	Pictures []Picture
	Files    []File
}

// Recalling is a Surface that knows which card answers a message also when
// another process has shown it.
type Recalling interface {
	Surface
	AnswerTo(ctx context.Context, message Ref) (card Ref, found bool, err error)
}

// Form is what a surface shows to people who prefer fields. Its fields are
// always these, by name in Event.Fields: station, temperature, altitudes; or,
// with Enter, those of a blind check.
type Form struct {
	Station     string // an ident; empty: none chosen
	Temperature string // as typed: -38, -36F
	Altitudes   string // as typed, separated by spaces, commas or line breaks, with labels
	Enter       *BlindForm
	Problems    map[string]string
}

// BlindForm is the form of a blind check: a field for each altitude, by
// FieldEntered in Event.Fields, or where the service takes fewer fields one for
// all of them, by FieldAllEntered. FieldRecord says of which record.
type BlindForm struct {
	Record string
	Names  []string // the altitudes as published, in order
	Typed  []string // what stands in their fields; may be shorter
	All    string   // what stands in the one field for all of them
}

// The fields of a Form, and of an entry under More.
const (
	FieldStation     = "station"
	FieldTemperature = "temperature"
	FieldAltitudes   = "altitudes"
	FieldRecord      = "record"
	FieldProcedure   = "procedure"
	FieldCommand     = "command" // of what is being typed: the verb behind which it stands
	FieldEntry       = "entry"   // of an Unfolded: the id of the present.Entry, or several, present.Joined
	FieldAllEntered  = "entered"
)

// FieldEntered is the field of the i-th altitude of a blind check, from 0.
func FieldEntered(i int) string { return FieldAllEntered + "-" + strconv.Itoa(i+1) }

// ActionEnter is the id of the action that opens the form of a blind check.
const ActionEnter = "enter"

// Handler takes events; the Dispatcher is one. A surface acknowledges an event to its
// service first, then calls Take from a goroutine of its own, which Take may
// hold up for as long as the work lasts. Take answers through s by itself.
type Handler interface {
	Handle(ctx context.Context, s Surface, e Event)
	// Check looks at a filled-in form at once and gives the problems by field;
	// nil when it can be sent. A surface that can refuse a form in place asks
	// this before it acknowledges; it takes well under a millisecond.
	Check(f Form) map[string]string
	// Stations are those whose ident or name fits what was typed so far, best
	// first, at most limit.
	Stations(typed string, limit int) []bot.Offer
	// Offers are what may be meant by e.Text, typed so far into a field: a
	// station, a procedure of the station in e.Fields, an open record that the
	// person may see at that place, by FieldCommand to check it or for anything
	// else. Best first, at most limit; none to whom firn does not answer.
	Offers(ctx context.Context, s Surface, e Event, field string, limit int) []bot.Offer
	// Answers says whether the bot answers at a place at all, so that a surface
	// need not acknowledge with a sign of life what will get no answer.
	Answers(s Surface, p Place) bool
}
