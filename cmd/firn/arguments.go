package main

import (
	"firn/cmd/wiring"
	"strings"
)

// errUsage marks a mistake on the command line.
var errUsage = wiring.ErrUsage

// messageFlags are the flags that may stand before or behind a message, by command;
// the value says whether the flag takes one.
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
// message, but for such flags behind it; "--" may stand before it, and then
// all behind that is the message.
func splitMessage(args []string) (rest []string, message string) {
	if len(args) == 0 {
		return args, ""
	}
	flags, ok := messageFlags[args[0]]
	if !ok {
		return args, ""
	}
	n := 1 + flagsOf(flags, args[1:])
	rest, words := args[:n:n], args[n:]
	if len(words) > 0 && words[0] == "--" {
		return rest, strings.Join(words[1:], " ")
	}
	for i := range words {
		if i > 0 && flagsOf(flags, words[i:]) == len(words)-i {
			return append(rest, words[i:]...), strings.Join(words[:i], " ")
		}
	}
	return rest, strings.Join(words, " ")
}

// flagsOf is how many of the arguments, from the first, are a command's flags with
// their values.
func flagsOf(flags map[string]bool, args []string) int {
	for i := 0; i < len(args); i++ {
		name, _, inline := strings.Cut(args[i], "=")
		takes, known := flags[name]
		switch {
		case !known || inline && !takes:
			return i
		case takes && !inline:
			i++
		}
	}
	return len(args)
}
