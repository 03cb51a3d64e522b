// Package page is the crew-room page: what the bases are like today and what
// the watch has said, for a screen on the wall.
//
//   - Page: posts as they come (an outbox.Sender) and the bases' states
//   - Handler: the page itself, plain HTML that needs no script
//
// Everything on it is shown as text, and the page loads nothing from elsewhere.
package page
