// Package ruleset says which published altitudes get which correction, when,
// and why, under the rules of an authority or a unit.
//
// A rule set is data: a short YAML document. The six built in lie in
// builtin/, an operator's own come from the configuration in the same form.
//
//   - document.go: Document, the YAML form, strict, with errors that give line and column
//   - Set: a compiled document, what Evaluate works with
//   - Input, Line, Result: one approach at one temperature, before and after
//     (evaluate.go, condition.go); amount.go has one altitude's correction, inward.go what the
//     way in makes of it, and what is told, flown.go what avionics fly
//   - rounding.go: Rounding, to which step, which way, of the correction or the
//     altitude
//   - call.go, request.go: Call and Request, the words to say to air traffic control;
//     filling.go: what fills them in
//
// Evaluate is pure and allocates only its result. It never answers less than
// the method asks for in the final segment, never subtracts in warm air, and
// never uses the four per cent rule.
package ruleset
