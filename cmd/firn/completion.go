package main

import (
	"firn/adapters/shell"
	"fmt"
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
	_, err := fmt.Fprint(h.stdout, shell.Completion(c.Shell, "firn", words))
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
