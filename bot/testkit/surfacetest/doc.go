// Package surfacetest holds the suite that every chat.Surface passes, and the
// memory implementation that tests of other packages use.
//
//   - driver.go: Driver, what a surface brings along: its native side, that of
//     the people and the service
//   - suite.go: Run, the cases; rig.go what they stand on
//   - memory.go: Memory, a chat service in memory with a surface on it
//
// A surface of a real service is driven through a double of that service over
// real HTTP and websockets: what the suite says and sees went through them.
package surfacetest
