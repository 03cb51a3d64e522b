// Package reply is what firn answers, free of any platform: facts, a table
// of altitudes, requests for air traffic control, cautions, a source line and
// actions. Each surface renders it in its own way; its JSON form is a
// contract with other programs.
//
//   - Reply, Row, Request, Caution, Working, Problem: the structure and JSON
//   - Correction: from an evaluated approach to the reply, with its cautions
//   - Status: whether a correction is asked for at a station, without figures
//   - working.go: the step-by-step working behind "why"
//
// It computes nothing: every figure comes from package engine.
package reply
