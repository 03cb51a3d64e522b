// Package person says what a name of somebody may be and when two names are
// one person's, for links, typed names and what the record says.
//
//   - Check: what a link or a typed name may hold
//   - Key: what names are compared by
//   - Shown: a name as it stands in a sentence
//
// It knows nobody: who may do what is told elsewhere.
package person
