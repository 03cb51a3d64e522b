// Package baro is what temperature does to vertical guidance that follows the
// altimeter (baro-VNAV).
//
//   - EffectiveAngle: the angle really flown on a published path
//   - Limits: the charted temperatures between which the guidance may be used
//
// In cold air the path is below the indicated one and shallower, in warm air
// steeper; an ILS glide slope and an SBAS glide path do not change (FAA AIM
// 7-3-3). Nothing here is for choosing an angle to fly or for working out a
// limit: both are read from the chart.
package baro
