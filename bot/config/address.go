package config

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"firn/bot/person"
	"firn/bot/strictyaml"
)

// channels are places where people talk: no group, and no file.
func (r *reader) channels(n ast.Node, key string) []Address {
	all := r.addresses(n, key)
	return slices.DeleteFunc(all, func(a Address) bool {
		bad := a.Group() || a.Surface == OnFile
		if bad {
			r.Add(n, "%q: nobody asks in %s; name channels, such as slack:C0123ABCD or page", key, strictyaml.Quote(a.String()))
		}
		return bad
	})
}

// linked are lists of accounts, each in one of them.
func (r *reader) linked(n ast.Node, key string) [][]Address {
	if r.tooMany(n, key) {
		return nil
	}
	var all [][]Address
	seen := map[Address]bool{}
	r.List(n, key, "[[slack:U0123ABCD, discord:100200300400500600]]", func(e ast.Node) {
		if _, ok := e.(*ast.SequenceNode); !ok {
			r.Add(e, "%q must be a list of lists, one a person, not %s; write [[slack:U0123ABCD, discord:100200300400500600]]", key, strictyaml.Describe(e))
			return
		}
		one := r.addresses(e, key)
		for _, a := range one {
			switch {
			case a.Group() || a.Surface == OnFile:
				r.Add(e, "%q: %s is no person's account; name slack:U0123ABCD or discord:ID", key, strictyaml.Quote(a.String()))
			case seen[a]:
				r.Add(e, "%q: %s is linked twice; put all accounts of a person into one list", key, strictyaml.Quote(a.String()))
			}
			seen[a] = true
		}
		if len(one) < 2 {
			r.Add(e, "%q: a person with one account needs no link; add the other account or remove the list", key)
			return
		}
		all = append(all, one)
	})
	return all
}

func (r *reader) addresses(n ast.Node, key string) []Address {
	var found []Address
	if r.tooMany(n, key) {
		return nil
	}
	r.List(n, key, "[slack:C0123ABCD, page]", func(e ast.Node) {
		a, ok := r.address(e, key)
		switch {
		case !ok:
		case slices.Contains(found, a):
			r.Add(e, "%s is given twice in %q; remove one of them", strictyaml.Quote(a.String()), key)
		default:
			found = append(found, a)
		}
	})
	return found
}

func (r *reader) tooMany(n ast.Node, key string) bool {
	s, ok := n.(*ast.SequenceNode)
	if !ok || len(s.Values) <= mostAddresses {
		return false
	}
	r.Add(n, "%q has %d entries; at most %d are read", key, len(s.Values), mostAddresses)
	return true
}

func (r *reader) address(n ast.Node, key string) (Address, bool) {
	if m, ok := n.(*ast.MappingNode); ok && len(m.Values) == 1 {
		if surface := m.Values[0].Key.GetToken().Value; slices.ContainsFunc(AddressForms[:], func(form string) bool { return strings.HasPrefix(form, surface+":") }) {
			r.Add(n, "%q takes one word: write %s:ID without a space after the colon", key, surface)
			return Address{}, false
		}
	}
	s, ok := r.Word(n, key, addressForms)
	if !ok {
		return Address{}, false
	}
	name, id, _ := strings.Cut(s, ":")
	switch surface := Surface(name); surface {
	case OnSlack, OnDiscord:
		plain := id
		if surface == OnDiscord {
			plain = strings.TrimPrefix(id, rolePrefix)
		}
		if !validID(surface, plain) {
			r.badID(n, key, surface, s)
			return Address{}, false
		}
		a := Address{surface, id}
		if key == "channels" && a.Group() {
			r.Add(n, "%q: %s is a group of people, and nothing can be posted to one; name a channel or a person", key, strictyaml.Quote(s))
			return Address{}, false
		}
		return a, true
	case OnFile:
		if !fileName.MatchString(id) {
			r.Add(n, "%q: %s has no file name; a name is up to 64 letters, digits, - and _, such as file:alerts", key, strictyaml.Quote(s))
			return Address{}, false
		}
		return Address{surface, id}, true
	case OnPage, OnConsole:
		if s == name {
			return Address{Surface: surface}, true
		}
		if surface == OnPage && key == "linked" {
			// Who came in by a link of that name, whom the record knows by its key.
			name := person.Clean(id)
			if err := person.Check(name); name == "" || err != nil {
				r.Add(n, "%q: %s is no name of a link; write page: and the name as \"firn access list\" has it", key, strictyaml.Quote(s))
				return Address{}, false
			}
			return Address{surface, person.Key(name)}, true
		}
		if surface == OnPage && key == "duty" {
			r.Add(n, "%q: the scope of a link says who is on duty on the page: leave %s out, and make the link with \"firn access add NAME --scope duty\"", key, strictyaml.Quote(s))
			return Address{}, false
		}
	}
	try := "write " + addressForms
	names := make([]string, len(AddressForms))
	for i, form := range AddressForms {
		names[i], _, _ = strings.Cut(form, ":")
	}
	if best, ok := strictyaml.Suggest(name, names); ok {
		try = "did you mean " + AddressForms[slices.Index(names, best)] + "?"
	}
	r.Add(n, "%q: %s is no channel or person; %s", key, strictyaml.Quote(s), try)
	return Address{}, false
}

func validID(on Surface, id string) bool {
	if on == OnSlack {
		return slackID.MatchString(id)
	}
	return discordID.MatchString(id)
}

func (r *reader) badID(n ast.Node, key string, on Surface, word string) {
	if on == OnSlack {
		r.Add(n, "%q: %s has no Slack id; an id is capital letters and digits, such as C0123ABCD: copy it from the channel's or the person's details, a name will not do", key, strictyaml.Quote(word))
		return
	}
	r.Add(n, "%q: %s has no Discord id; an id is digits only: copy it with the developer mode on, a name will not do", key, strictyaml.Quote(word))
}

// ids reads the channels of one surface. The surface may be said again before
// an id, as it is elsewhere in the file.
func (r *reader) ids(n ast.Node, on Surface) []string {
	var found []string
	if r.tooMany(n, "channels") {
		return nil
	}
	r.List(n, "channels", map[Surface]string{OnSlack: "[C0123ABCD]", OnDiscord: `["100200300400500600"]`}[on], func(e ast.Node) {
		id := r.id(e, "channels", on)
		switch {
		case id == "":
		case slices.Contains(found, id):
			r.Add(e, "%s is given twice in %q; remove one of them", strictyaml.Quote(id), "channels")
		default:
			found = append(found, id)
		}
	})
	return found
}

func (r *reader) id(n ast.Node, key string, on Surface) string {
	s, ok := r.Word(n, key, "its id")
	if !ok {
		return ""
	}
	id := strings.TrimPrefix(s, string(on)+":")
	if !validID(on, id) {
		r.badID(n, key, on, s)
		return ""
	}
	return id
}

// mostAddresses bounds the search for doubles.
const mostAddresses = 200

// addressForms are those of every surface in words.
var addressForms = strings.Join(AddressForms[:len(AddressForms)-1], ", ") + " or " + AddressForms[len(AddressForms)-1]

// fileName is what a file that is posted to may be called: nothing that a
// file system could read in another way.
var fileName = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$`)

var slackID, discordID = regexp.MustCompile(`^[A-Z0-9]{2,20}$`), regexp.MustCompile(`^[0-9]{1,20}$`)

// ParseAddress reads one address as the file has it: slack:ID, discord:ID,
// discord:role:ID, file:NAME, page or console.
func ParseAddress(s string) (Address, error) {
	name, id, _ := strings.Cut(s, ":")
	switch on := Surface(name); on {
	case OnSlack:
		if validID(on, id) {
			return Address{on, id}, nil
		}
	case OnDiscord:
		if validID(on, strings.TrimPrefix(id, rolePrefix)) {
			return Address{on, id}, nil
		}
	case OnFile:
		if fileName.MatchString(id) {
			return Address{on, id}, nil
		}
	case OnPage, OnConsole:
		if s == name {
			return Address{Surface: on}, nil
		}
	}
	return Address{}, fmt.Errorf("%.40q is no channel; write %s", s, addressForms)
}
