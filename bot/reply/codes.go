package reply

// CautionCode names a caution in the JSON contract. A rule set's own are in its YAML.
type CautionCode string

// The codes of cautions, all of them. One that is to wait under More is in behind
// of bot/present, too.
const (
	CautionAltimeterSetting CautionCode = "altimeter-setting" // it stays as it is: of every answer
	CautionThisTemperature  CautionCode = "this-temperature"  // the figures hold for it alone: of every answer
	CautionVisibility       CautionCode = "visibility"        // minimums of it stay: of every answer
	CautionUnverified       CautionCode = "unverified"        // the rule set is, by its own words

	CautionNotKept      CautionCode = "not-kept"      // the store has not taken the answer: shown wherever it is, folded nowhere
	CautionNotDrawn     CautionCode = "not-drawn"     // why a picture is missing
	CautionProcedureGap CautionCode = "procedure-gap" // what a stored procedure lacks
	CautionRemote       CautionCode = "remote-source" // beside the stop of that code
	CautionBaroVNAV     CautionCode = "baro-vnav"     // the chart's temperature limits are not known
	CautionWholeDegree  CautionCode = "whole-degree"  // a report would have the published temperature
	CautionLabelThem    CautionCode = "label-them"    // altitudes without a label are only listed
	CautionCeiling      CautionCode = "ceiling"       // no floor can be asked for
	CautionAssigned     CautionCode = "assigned"      // of a route: an altitude that is assigned
	CautionEstimate     CautionCode = "estimate"      // of a route: true altitudes are
	CautionNoFigure     CautionCode = "no-figure"     // of an alert: why a usual procedure has none

	CautionKeptObservation CautionCode = "kept-observation" // the source does not answer
	CautionNewerReport     CautionCode = "newer-report"     // there is one that cannot be used
	CautionOldReport       CautionCode = "old-report"       // or one dated ahead of the clock
	CautionSourcePassed    CautionCode = "source-passed"    // failing or too old
	CautionDewPoint        CautionCode = "dew-point"        // the report is in doubt
	CautionColderTenths    CautionCode = "colder-tenths"    // the remarks are colder than the body
	CautionAltimeterHigh   CautionCode = "altimeter-high"   // above 31.00 inHg
	CautionAltimeterLow    CautionCode = "altimeter-low"    // below 28.00 inHg
	CautionForecastNote    CautionCode = "forecast-note"    // what must be known of the forecast
	CautionOldForecast     CautionCode = "old-forecast"     // how old it is
	CautionForecastOnly    CautionCode = "forecast-only"    // planned, not reported

	CautionAboveTable      CautionCode = "above-table"       // above its last column
	CautionColderThanTable CautionCode = "colder-than-table" // than its last row
	CautionWarmerThanTable CautionCode = "warmer-than-table" // than its first row
	CautionWarmAir         CautionCode = "warm-air"          // not colder than standard
	CautionStillBelow      CautionCode = "still-below"       // for the screen, short: of the next one
	CautionBelowPublished  CautionCode = "below-published"   // where the figures leave the aeroplane truly below the chart
	CautionTransition      CautionCode = "transition"        // what reaches the transition altitude
)
