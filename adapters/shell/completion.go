// Package shell writes what bash, zsh and fish need to complete the words of a
// command.
package shell

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Completion is the script for bash, zsh or fish of a program. words has for
// each command, as it is typed (empty for the program alone), what may follow:
// commands, and flags with their dashes.
func Completion(shell, program string, words map[string][]string) string {
	var text strings.Builder
	switch shell {
	case "fish":
		fish(&text, program, words)
	case "zsh":
		text.WriteString("autoload -U +X bashcompinit && bashcompinit\n")
		bash(&text, program, words)
	default:
		bash(&text, program, words)
	}
	return text.String()
}

// bash completes by the words before the cursor that are no flags; where
// nothing is known it completes names of files.
func bash(out *strings.Builder, program string, words map[string][]string) {
	fmt.Fprintf(out, "_%s() {\n  local cur=${COMP_WORDS[COMP_CWORD]} path= w\n  for w in \"${COMP_WORDS[@]:1:COMP_CWORD-1}\"; do\n    case \"${path:+$path }$w\" in\n", program)
	for _, path := range slices.Sorted(maps.Keys(words)) {
		if path != "" {
			fmt.Fprintf(out, "      %q) path=%q ;;\n", path, path)
		}
	}
	out.WriteString("    esac\n  done\n  case \"$path\" in\n")
	for _, path := range slices.Sorted(maps.Keys(words)) {
		fmt.Fprintf(out, "    %q) w=%q ;;\n", path, strings.Join(words[path], " "))
	}
	fmt.Fprintf(out, "  esac\n  COMPREPLY=($(compgen -W \"$w\" -- \"$cur\"))\n}\ncomplete -o default -F _%s %s\n", program, program)
}

func fish(out *strings.Builder, program string, words map[string][]string) {
	for _, path := range slices.Sorted(maps.Keys(words)) {
		when := "__fish_use_subcommand"
		if path != "" {
			when = "__fish_seen_subcommand_from " + path[strings.LastIndexByte(path, ' ')+1:]
		}
		for _, w := range words[path] {
			if name, flag := strings.CutPrefix(w, "--"); flag {
				fmt.Fprintf(out, "complete -c %s -n %q -l %s\n", program, when, name)
			} else {
				fmt.Fprintf(out, "complete -c %s -n %q -a %s\n", program, when, w)
			}
		}
	}
}
