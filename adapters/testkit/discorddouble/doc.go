// Package discorddouble is a server on loopback that speaks what Discord
// publishes of its interface, version 10: the REST calls and the gateway that
// a bot like firn uses. It is strict about what it takes, has people who do
// things, and fails on demand.
//
//   - server.go: Start, the world (people, channels, messages) and what is
//     seen of it
//   - people.go: what people do: Say, Edit, Command, Press, Choose,
//     Submit, ...
//   - gateway.go: the websocket: identify, resume, dispatches
//   - rest.go: the calls; body.go what a message may be; interactions.go the
//     answers to commands, buttons and forms; limits.go how often
//   - faults.go: failures on demand
//
// It needs no *testing.T: the load program and tests of the whole process use
// it too. What it refuses it also keeps as a violation (Violations), so that a
// client that swallows an error does not hide one.
//
// The figures (limits, codes, times) are those of Discord's developer
// documentation, version 10.
package discorddouble
