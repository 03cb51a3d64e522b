// Package config reads the program's configuration: YAML in, checked values
// out. It is given bytes and a name; it opens no file and reads no
// environment, clock or network. (time.LoadLocation is the one call that may
// look outside, for the rules of a named time zone.)
//
// In reading order:
//
//   - config.go: the values, as the rest of the program uses them
//   - decode.go: the whole file, key by key, and the checks across keys; the
//     keys of a part are in station.go, watch.go, address.go, services.go and
//     rulesets.go; bot/strictyaml reads the nodes
//   - lookup.go, slip.go: a station by its ident, by its name, the nearest ones, or
//     the one that a word misspells
//   - listed.go, around.go: fields that only the list of airports knows; what
//     lies around a place
//   - watched.go: bases that are watched besides the file's own
//
// Nothing half-loads: a file with any problem gives no Config, and every
// problem that one reading can find is reported, in the order of the file.
// An unknown key is an error, never ignored.
package config
