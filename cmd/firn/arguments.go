package main

import (
	"firn/cmd/wiring"
	"strings"
)

// errUsage marks a mistake on the command line.
var errUsage = wiring.ErrUsage

// messageFlags are the flags that may stand before a message, by command; the
// value says whether the flag takes one.
var messageFlags = map[string]map[string]bool{
	"ask":     {"--config": true, "--at": true, "--json": false, "--full": false, "--help": false, "-h": false},
	"picture": {"--config": true, "--data": true, "--kind": true, "--svg": false, "--at": true, "--out": true, "-o": true, "--help": false, "-h": false},
	"card":    {"--config": true, "--data": true, "--paper": true, "--png": false, "--at": true, "--by": true, "--out": true, "-o": true, "--help": false, "-h": false},
	"decode":  {"--at": true, "--json": false, "--help": false, "-h": false},
}

// splitMessage takes the message out of the arguments before any flag library
// sees them: a message may begin with a minus sign, and a library that takes
// "-38" for two flags would change a temperature without a word. Everything
// from the first argument that is not one of the command's own flags is the
// message; "--" may stand before it.
func splitMessage(args []string) (rest []string, message string) {
	if len(args) == 0 {
		return args, ""
	}
	flags, ok := messageFlags[args[0]]
	if !ok {
		return args, ""
	}
	for i := 1; i < len(args); i++ {
		name, _, inline := strings.Cut(args[i], "=")
		takes, known := flags[name]
		switch {
		case args[i] == "--":
			return args[:i], strings.Join(args[i+1:], " ")
		case !known || inline && !takes:
			return args[:i], strings.Join(args[i:], " ")
		case takes && !inline:
			i++
		}
	}
	return args, ""
}
