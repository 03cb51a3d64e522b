package surfacetest

import (
	"testing"

	"firn/bot/chat"
	"firn/bot/outbox"
)

// Driver is one fresh surface seen from the other side: it does what people
// and their service do, and shows what they see. Its methods may be used by
// several goroutines and end the test where the double itself fails; they do
// not wait for an answer of the bot unless they say so.
type Driver interface {
	// Traits say what this surface has. They are the same for its whole life.
	Traits() Traits
	// Start connects the surface to its service and lets it hand events to
	// dispatcher; it returns when what people do from now on arrives. Before the
	// test ends the driver stops by itself (t.Cleanup).
	Start(t *testing.T, dispatcher chat.Handler) chat.Surface
	// Stop ends the surface as a shutdown does. What was shown stays, and a
	// second Start is a restart of firn: a new surface, the same service.
	Stop(t *testing.T)

	// Say sends a message to the bot, in the way in which it is addressed there
	// (a mention in a channel, a follow-up in a thread without one where the
	// service allows it, plain words in a direct message), and gives its id.
	Say(t *testing.T, m Said) (message string)
	// Edit changes the text of a message that Say sent. What it gives is the
	// deed, for Redeliver.
	Edit(t *testing.T, message, text string) (deed string)
	// Press presses the button with the id of a reply.Action.
	Press(t *testing.T, s Shown, action string, by Person) (deed string)
	// Redeliver lets the service send a deed again (a message, edit, press or
	// submission), in every way in which it does so: an unchanged repeat, a
	// second form of the same message.
	Redeliver(t *testing.T, deed string)

	// OpenForm asks for the form, as the person does there (a command, a
	// shortcut, a button), waits until it is open and gives its id. m.Text is
	// what was typed with it.
	OpenForm(t *testing.T, m Said) (form string)
	// Form is the form as the person sees it now.
	Form(t *testing.T, form string) Form
	// Submit fills the fields in (by chat.FieldStation and its like) and sends
	// the form.
	Submit(t *testing.T, form string, fields map[string]string) (deed string)

	// Shown is everything that the bot shows, in the order in which a reader
	// meets it in each channel or thread; what was edited is there as it is now.
	// One native message is one Shown: a split answer is several.
	Shown(t *testing.T) []Shown
}

// Fronter is a Driver of a chat.Fronted surface.
type Fronter interface {
	Driver
	// Look opens the surface's front page as a person.
	Look(t *testing.T, by Person)
	// Front is what the person's front page shows, as in Shown; empty before
	// anything is there.
	Front(t *testing.T, of Person) string
}

// Enterer is a Driver whose surface shows the form of a blind check.
type Enterer interface {
	Driver
	// PressForm presses a button that opens a form, waits until it is open and
	// gives its id.
	PressForm(t *testing.T, s Shown, action string, by Person) (form string)
}

// Unfolder is a Driver of a chat.Unfolding surface.
type Unfolder interface {
	Driver
	// Choose chooses an entry under More of a message, by its id, as a person.
	// What is shown then is in Shown: words with Only, also those of a window;
	// pictures and files there or in the person's direct message.
	Choose(t *testing.T, s Shown, entry string, by Person) (deed string)
}

// Deleter is a Driver of a service in which people delete what they said.
type Deleter interface {
	Driver
	// Delete deletes a message that Say sent.
	Delete(t *testing.T, message string)
}

// Messager is a Driver of a service that has a command on a message of
// somebody's.
type Messager interface {
	Driver
	// Correct asks about a message that Say sent to nobody, as a person.
	Correct(t *testing.T, message string, by Person)
}

// Breaker is a Driver whose service can fail.
type Breaker interface {
	Driver
	// Break makes every call to the service fail from now on, as an outage
	// does. It must fail fast: the suite waits for the error.
	Break(t *testing.T)
}

// Poster is a Driver whose surface posts for the outbox as well.
type Poster interface {
	Driver
	// Sender is that of the surface which Start gave last.
	Sender(t *testing.T) outbox.Sender
}

// Traits are what a surface has.
type Traits struct {
	Name string // as Surface.Name
	Home string // the workspace or server that it serves; empty: there is none
	// Channels are two in which the bot may answer; empty for a surface that
	// has direct messages alone, such as the console.
	Channels []string
	// Elsewhere are places where it must not answer: a channel of the home that
	// is not in Channels, a channel of another home.
	Elsewhere []Where
	// People are three, of whom nobody is a bot.
	People []Person
	// Outsiders can write to the bot and do not belong to the unit: guests,
	// people of another organisation, strangers. Empty: such a one cannot.
	Outsiders []Outsider
	// Groups are user groups or roles; the first person is in the first of
	// them, nobody else is. Empty: there are none.
	Groups []string
	// Secrets are what no error may hold: tokens, addresses that contain them.
	Secrets []string

	Direct   bool // has direct messages
	Edits    bool // people can edit what they said
	Buttons  bool // has buttons
	Forms    bool // has forms
	Private  bool // can show something to one person in a channel, at least as the answer to a button
	Pictures bool // can show pictures, and files to keep
	Waits    bool // who says something is answered also where there is nothing to say
	Changes  bool // can change what it has shown
	Open     bool // what is asked in a direct message is for the unit all the same

	// Lacks are all that the surface or its service cannot do. The suite holds it
	// to that: a case that is left out is left out for one of these.
	Lacks []Power
}

// Power is something that not every surface can do.
type Power string

// The powers. Those behind More, of forms and of what follows belong to a Driver
// that is an Unfolder, an Enterer and so on.
const (
	Channels  Power = "channels"
	Directly  Power = "direct messages"
	Changes   Power = "changing what was shown"
	Edits     Power = "editing what was said"
	Deletes   Power = "deleting what was said"
	Buttons   Power = "buttons"
	Forms     Power = "forms"
	Enters    Power = "the form of a blind check"
	Privately Power = "showing something to one person in a channel"
	Pictures  Power = "pictures"
	More      Power = "what lies behind More"
	FrontPage Power = "a front page"
	OnMessage Power = "a command on somebody's message"
	Posts     Power = "posts of the outbox"
	Under     Power = "posts under posts"
	Groups    Power = "groups"
	Strangers Power = "people who do not belong to the unit"
	Closed    Power = "places without answers"
	Outages   Power = "outages of its service"
)

// powers says of each whether a driver has it.
func powers(t *testing.T, d Driver) map[Power]bool {
	tr := d.Traits()
	has := map[Power]bool{
		Channels: len(tr.Channels) > 0, Directly: tr.Direct, Edits: tr.Edits, Changes: tr.Changes, Buttons: tr.Buttons, Forms: tr.Forms,
		Privately: tr.Private, Pictures: tr.Pictures, Groups: len(tr.Groups) > 0, Strangers: len(tr.Outsiders) > 0, Closed: len(tr.Elsewhere) > 0,
	}
	_, has[Deletes] = d.(Deleter)
	_, has[Enters] = d.(Enterer)
	_, has[More] = d.(Unfolder)
	_, has[FrontPage] = d.(Fronter)
	_, has[OnMessage] = d.(Messager)
	_, has[Outages] = d.(Breaker)
	poster, ok := d.(Poster)
	if has[Posts] = ok; ok {
		_, has[Under] = poster.Sender(t).(outbox.Threaded)
	}
	return has
}

// Where is a channel of a home.
type Where struct{ Home, Channel string }

// Outsider is somebody of the service who does not belong to the unit.
type Outsider struct {
	Person
	What string // such as a guest
	// InChannels says that they are in the channels, too.
	InChannels bool
}

// Person is somebody of the service.
type Person struct {
	ID   string // the service's own, as in chat.Person
	Name string
}

// Said is what a person does at a place.
type Said struct {
	By      Person
	Home    string // empty: the surface's own
	Channel string // ignored for a direct message
	Thread  string // as in Shown; empty: not in a thread
	Direct  bool
	Text    string // without the mention, which the driver adds
	// Aside says that it is asked in the way in which the service can answer
	// privately (a command), where it has one. Say then gives the deed, for no
	// message may be there.
	Aside bool
	// Unheard says that it is said to somebody else: without a mention, also
	// where no thread is.
	Unheard bool
}

// Shown is one message of the bot.
type Shown struct {
	ID      string // the service's own
	Channel string // the channel, of a thread its channel; empty in a direct message
	Thread  string // the id of the message that began the thread, as Say gives it; empty: not in a thread
	Direct  string // id of the person whose direct message it stands in
	Only    string // id of the person who alone sees it in a channel
	// Text is everything readable in it, plain: escapes undone, formatting
	// marks left out, a table cell by cell, labels of buttons not in it, text
	// files that are attached in it.
	Text     string
	Buttons  []Button
	More     []string // the ids of the entries under More; those that are offered as one each
	Pictures []Picture
	Files    []File // to keep or to print; text files are in Text
	Edited   bool
	// Pings is whatever in the raw message would notify somebody or show as a
	// mention: @everyone, a channel, a user, a role, a live link that the asker
	// typed.
	Pings []string
	// Broken is what the service would refuse or show broken: a length over its
	// limit, a missing fallback text, a picture without words. The double may
	// refuse these itself.
	Broken []string
}

// Button is a button as shown. ID is that of the reply.Action.
type Button struct{ ID, Label string }

// Picture is a picture as shown; Alt is its words.
type Picture struct {
	Name, Alt string
	Size      int // bytes that arrived
}

// File is a file to keep or to print, as shown.
type File struct {
	Name string
	Size int // bytes that arrived
}

// Form is a form as shown.
type Form struct {
	Open     bool
	Fields   map[string]string // what stands in them
	Problems map[string]string // beside the fields; empty where the service cannot and says it otherwise
}
