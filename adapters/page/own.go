package page

import (
	"slices"

	"firn/bot/record"
)

// ownResult says that the reader, or this browser, computed a record: somebody
// else checks it.
func (r *request) ownResult(id string) bool {
	if r.p.o.Records == nil {
		return false
	}
	k, found, err := r.p.o.Records.Find(r.Context(), id)
	return err == nil && found && r.computed(k)
}

func (r *request) computed(k record.Record) bool {
	return slices.Contains(r.viewer().Accounts, k.Asked.Address) || k.Asked.Via != "" && k.Asked.Via == r.who.person.Via
}

// ownButtons are what an author can do: in the place of the check, which is
// another person's, stands last where that person does it.
func ownButtons(all []buttonView) []buttonView {
	i := slices.IndexFunc(all, func(b buttonView) bool { return b.ID == record.ActionCheck })
	if i < 0 {
		return all
	}
	check := buttonView{ID: "checklink", Label: "Link to check", Copy: all[i].Href}
	all = slices.Delete(all, i, i+1)
	if len(all) > 0 {
		all[0].Primary = true
	}
	return append(all, check)
}
