// Package atmosphere is the air an altimeter is calibrated in and the air an
// aeroplane flies in, and what each makes of the other.
//
// In reading order:
//
//   - StandardTemperature, StandardPressure, PressureAltitude: the standard
//     atmosphere to 20 km
//   - AltimeterSetting, StationPressure, Indicated: what is dialled in and
//     what is read
//   - Air: the reported temperature and where it was reported; the whole
//     standard profile shifted by its deviation, from indicated to true
//     height and back
//   - Column: the exact hydrostatic column with any constant lapse, an
//     inversion and an isothermal layer included
//   - TrueAltitudeFromOutside: true altitude from the outside air temperature
//   - Situation: pressure, setting, indicated and true altitude of one
//     aeroplane side by side, for teaching
//
// Heights are geopotential; at the heights of approaches the difference from
// geometric ones is negligible. The package corrects nothing: how much to add
// to a published altitude, and by which method, is package correction.
package atmosphere
