// Package approach holds published instrument approaches as firn stores them,
// whether a crew typed them from a chart or a coded file brought them.
//
//   - Approach, Leg, Minimum: what is published, nothing corrected
//   - Settle: segments, path angle and missed approach altitude from the legs
//   - Points: the altitudes a rule set corrects, in flying order
//   - Find: an approach by what crews call it; several are a question
//   - ParseTitle: a chart's title to kind, runway and letter
//   - Object: the JSON form that programs outside rely on
//
// It reads no file and no clock: adapters/chartyaml and adapters/cifp make the
// approaches, and a time is handed in where a cycle may have ended.
package approach
