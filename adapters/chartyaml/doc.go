// Package chartyaml reads procedures that a crew typed from a chart.
//
// A file holds one procedure, or several with "---" between them:
//
//	station: XKLD
//	procedure: RNAV (GPS) RWY 31  # the chart's title
//	effective: 2026-09-03
//	end: 2026-10-01               # the day the next edition begins
//	source: chart of 3 SEP 2026
//	fixes:                        # in the order they are flown
//	  - {fix: XADLO, role: IAF, above: 10900}
//	  - {fix: XOLMI, role: IF, above: 8200}
//	  - {fix: XIRTU, role: FAF, above: 7400}
//	  - {fix: XUPEN, role: step, above: 6100}
//	minimums:
//	  - {name: LNAV/VNAV, da: 5340}
//	  - {name: LNAV, mda: 5460}
//	vertical_angle_deg: 3.1
//	baro_low_c: -28
//	baro_high_c: 47
//	msa_ft: 12500                 # optional, the highest sector altitude
//	missed_fix: XADLO
//	missed_ft: 10200
//
// A role is IAF, IF, FAF, step, procedure turn, hold or arc; IAF may stand
// before one of the last three. An altitude is at, above (at or above), below
// (at or below) or between: [9000, 11000]. An approach published without a
// final approach fix says "final_fix: none".
//
// A step-down, an arc, a procedure turn or a hold that stands on one branch
// alone says from which initial fix it comes, as "from: XADLO"; one that does
// not say is on every way. Where the chart's altimeter source is a remote one
// it says "remote: true", with "remote_additive_ft: 80" for what its note adds
// to minimums.
//
// What cannot be right is reported with file, line, column, fix and rule;
// nothing is put right. Of a folder a file that cannot be used is left out and
// named; one for a station that is not configured is no fault. The text comes in as bytes: opening files is for the
// caller, but for ReadFS.
package chartyaml
