// Package correction answers how much to add to a published altitude in air
// colder than standard, so that the aeroplane is truly at least that high.
//
// In reading order:
//
//   - Table, TableNext, Read: the published table, interpolated, stepped to
//     the safe side, with its working
//   - Equation: the published PANS-OPS equation
//   - Accurate: the accurate (ESDU) equation, solved for the wanted true
//     height
//   - Column: the exact column with the standard lapse
//   - FourPercent: the rule of thumb, taught and never used as an answer
//   - Error: how low an aeroplane is that flies the uncorrected altitude,
//     which is another question with another, smaller answer
//   - By, Methods: a method by its id
//   - EnRoute, EnRouteByOutside: what a minimum en-route altitude needs, by the
//     temperature on the ground and at the level
//
// Two traps are worth knowing before reading on. The table takes the
// temperature as it was reported and assumes the aerodrome at sea level; the
// equation reduces the temperature to sea level first. And what must be added
// at a wanted true height is more than what the altimeter is wrong by at that
// indicated height: at -40 °C and 2000 ft at sea level 477 ft against 384 ft.
//
// No correction is ever negative: warmer than standard gives zero. Nothing is
// rounded here; that is the rule sets' business. Which method errs to which
// side: against Accurate the equation is short by up to 5 %, the column by up
// to 3 %; the table is high but for four cells at sea level (at most 3 ft
// short); four per cent is high down to about -17 °C for heights to 5000 ft
// (-12 °C to 10 000 ft) and short in colder air.
package correction
