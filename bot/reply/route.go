package reply

import "fmt"

// OnRoute is a minimum altitude on the way. Figures are in feet.
type OnRoute struct {
	MinimumFt       float64  `json:"minimum_ft"`
	HeightFt        float64  `json:"height_ft"` // above the altimeter setting source
	CorrectionFt    float64  `json:"correction_ft"`
	CorrectedFt     float64  `json:"corrected_ft"` // up to the next hundred
	TrueFt          float64  `json:"true_ft"`      // where the aeroplane is at the indicated minimum
	DeviationC      OptFloat `json:"deviation_c"`  // from standard at the source
	OutsideC        OptFloat `json:"outside_c,omitzero"`
	TrueByOutsideFt OptFloat `json:"true_by_outside_ft,omitzero"`
	Strict          bool     `json:"strict"` // the strict rule asks for it
}

// Route makes the reply.
func Route(sc Scene, o OnRoute, mountainous bool) Reply {
	r := sc.base(KindRoute)
	r.Route, r.Method = &o, "accurate"
	r.Facts = []string{sc.place(r.TemperatureSource)}
	r.Facts = append(r.Facts, "At the altimeter setting source the air is "+fromStandard(o.DeviationC.Value)+".")
	if o.CorrectionFt > 0 {
		r.Facts = append(r.Facts, fmt.Sprintf("Minimum %s ft: fly at least %s ft indicated (add %s, up to the next hundred).", trimFeet(o.MinimumFt), WholeUp(o.CorrectedFt), WholeUp(o.CorrectionFt)))
	} else {
		r.Facts = append(r.Facts, fmt.Sprintf("Minimum %s ft: nothing is added in air that is not colder than standard.", trimFeet(o.MinimumFt)))
	}
	r.Facts = append(r.Facts, fmt.Sprintf("At %s ft indicated the aeroplane is really near %.0f ft.", trimFeet(o.MinimumFt), o.TrueFt))
	if o.TrueByOutsideFt.OK {
		r.Facts = append(r.Facts, fmt.Sprintf("By the outside air, %s °C at that level: near %.0f ft; the larger correction of the two is given.", trim(o.OutsideC.Value), o.TrueByOutsideFt.Value))
	}
	switch {
	case o.Strict:
		r.Facts = append(r.Facts, "The strict rule set asks to consider it: over mountains, in air more than 10 °C colder than standard (from memory, unverified).")
	case mountainous:
		r.Facts = append(r.Facts, "The strict rule set does not ask for it: the air is not more than 10 °C colder than standard (from memory, unverified).")
	}
	r.Cautions = []Caution{
		{Code: CautionThisTemperature, Text: "Good for this temperature and this altimeter setting only."},
		settingStays,
		{Code: CautionAssigned, Text: "An altitude that air traffic control has assigned is not changed without its approval: ask for the one you need."},
		{Code: CautionEstimate, Text: "True altitudes are estimates: an inversion, wind over mountains and the distance to the source change them."},
	}
	r.Source = "the larger of the ICAO accurate equation and the published one, from the source's height (ICAO Doc 8168); true altitude from the standard lapse. " + Aid
	return r
}

// fromStandard says how far air is from standard.
func fromStandard(v float64) string {
	switch {
	case v < 0:
		return trim(-v) + " °C colder than standard"
	case v > 0:
		return trim(v) + " °C warmer than standard"
	}
	return "standard"
}
