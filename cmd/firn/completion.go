package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/alecthomas/kong"
)

// completionCommand writes what a shell needs to complete firn's commands and
// flags.
type completionCommand struct {
	Shell string `arg:"" help:"bash, zsh or fish." enum:"bash,zsh,fish"`
}

// Help is what kong shows below the arguments.
func (completionCommand) Help() string {
	return "bash: source <(firn completion bash)\nzsh: source <(firn completion zsh), after compinit\nfish: firn completion fish | source"
}

// Run writes the script.
func (c completionCommand) Run(h host, k *kong.Kong) error {
	words := map[string][]string{}
	offered(words, nil, k.Model.Node)
	var text strings.Builder
	if c.Shell == "fish" {
		fish(&text, words)
	} else {
		if c.Shell == "zsh" {
			text.WriteString("autoload -U +X bashcompinit && bashcompinit\n")
		}
		bash(&text, words)
	}
	_, err := fmt.Fprint(h.stdout, text.String())
	return err
}

// offered collects, for each command as it is typed, what may follow it.
func offered(words map[string][]string, path []string, n *kong.Node) {
	var all []string
	for _, c := range n.Children {
		if c.Hidden || c.Type != kong.CommandNode {
			continue
		}
		all = append(all, c.Name)
		offered(words, append(slices.Clone(path), c.Name), c)
	}
	for _, group := range n.AllFlags(true) {
		for _, f := range group {
			all = append(all, "--"+f.Name)
		}
	}
	slices.Sort(all)
	words[strings.Join(path, " ")] = slices.Compact(all)
}

// bash completes by the words before the cursor that are no flags; where
// nothing is known it completes names of files.
func bash(out *strings.Builder, words map[string][]string) {
	out.WriteString("_firn() {\n  local cur=${COMP_WORDS[COMP_CWORD]} path= w\n  for w in \"${COMP_WORDS[@]:1:COMP_CWORD-1}\"; do\n    case \"${path:+$path }$w\" in\n")
	for _, path := range slices.Sorted(maps.Keys(words)) {
		if path != "" {
			fmt.Fprintf(out, "      %q) path=%q ;;\n", path, path)
		}
	}
	out.WriteString("    esac\n  done\n  case \"$path\" in\n")
	for _, path := range slices.Sorted(maps.Keys(words)) {
		fmt.Fprintf(out, "    %q) w=%q ;;\n", path, strings.Join(words[path], " "))
	}
	out.WriteString("  esac\n  COMPREPLY=($(compgen -W \"$w\" -- \"$cur\"))\n}\ncomplete -o default -F _firn firn\n")
}

func fish(out *strings.Builder, words map[string][]string) {
	for _, path := range slices.Sorted(maps.Keys(words)) {
		when := "__fish_use_subcommand"
		if path != "" {
			when = "__fish_seen_subcommand_from " + path[strings.LastIndexByte(path, ' ')+1:]
		}
		for _, w := range words[path] {
			if name, flag := strings.CutPrefix(w, "--"); flag {
				fmt.Fprintf(out, "complete -c firn -n %q -l %s\n", when, name)
			} else {
				fmt.Fprintf(out, "complete -c firn -n %q -a %s\n", when, w)
			}
		}
	}
}
