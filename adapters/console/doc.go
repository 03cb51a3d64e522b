// Package console shows replies on a terminal and reads messages from one.
//
//   - Render: a reply as plain text, aligned, 72 columns; colour only where it
//     is asked for, and never alone carrying meaning
//   - Chat: the interactive console, with line editing and history on a
//     terminal and plain lines otherwise
//
// It decides nothing: the words and figures are the reply's.
package console
