// Package strictyaml reads the files that people write for firn: YAML in, nodes
// and problems out, each problem a place in the file and a sentence that says
// what to write instead. It is given bytes and a name, and opens nothing. In
// reading order:
//
//   - reader.go: bytes to a tree: size, text, documents
//   - tokens.go: what is refused before anything recursive sees it: depth,
//     anchors, tags, groups without end
//   - fields.go: one node of the tree to one value
//   - problem.go, suggest.go: the words of a problem
//   - secret.go: what must not be in a file, and is never repeated
//
// Which keys there are, and what may stand behind them, is the caller's.
package strictyaml
