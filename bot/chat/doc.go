// Package chat holds firn's conversation on chat services, in words free of
// any of them: a surface (adapters/slack, adapters/discord, ...) turns what
// its service sends into an Event, the Dispatcher decides what becomes of it, and
// the surface shows the Messages.
//
// In reading order: port.go has the words and the port; settings.go what the
// Dispatcher needs; dispatcher.go what becomes of an event; work.go how it is
// answered, and what is said where it cannot be, workers.go by how many at once;
// show.go how an answer is shown, audience.go and to whom;
// rights.go who may do what, and who has asked too often; once.go that an event
// is taken once, and which answer an edit changes; taking.go and peers.go by which
// of several processes; unfold.go what lies behind More; form.go what a form says
// and what is wrong with it; offers.go what may be meant while somebody types;
// front.go how front pages are kept as it is now.
//
// The dispatcher never sees tokens, blocks or embeds, and a surface never decides
// whether somebody may do something.
package chat
