package parse

import "firn/engine/procedure"

// meaning is what a known word or phrase stands for.
type meaning uint8

const (
	noMeaning meaning = iota
	filler            // politeness and small words
	roleWord          // a label of an altitude
	elevationWord
	heightWord // above the field
	seaWord    // above mean sea level, as every altitude is
	feetWord
	metreWord
	celsiusWord
	fahrenheitWord
	minusWord
	plusWord
	temperatureWord
	flightLevelWord
	procedureWord // rnp, ils, ...
	runwayWord
	heightMinimum   // decision and minimum descent height
	notCorrected    // departures, arrivals, assigned altitudes
	compensatedWord // barometric guidance corrected by the avionics
	verbWord
	paperWord // of a card
)

// phrase is one or more words with one meaning.
type phrase struct {
	words   []string
	meaning meaning
	role    procedure.Role
	label   string // as the reply shows it, where the role's own is not enough
	verb    Verb
}

// phrases are all known words, by their first. Common crew usage; the terms
// are those of the FAA Pilot/Controller Glossary and ICAO Doc 8168.
var phrases = byFirstWord([]phrase{
	{words: []string{"iaf"}, meaning: roleWord, role: procedure.InitialFix},
	{words: []string{"initial", "approach", "fix"}, meaning: roleWord, role: procedure.InitialFix},
	{words: []string{"initial", "fix"}, meaning: roleWord, role: procedure.InitialFix},
	{words: []string{"initial"}, meaning: roleWord, role: procedure.InitialFix},
	{words: []string{"if"}, meaning: roleWord, role: procedure.IntermediateFix},
	{words: []string{"intermediate", "fix"}, meaning: roleWord, role: procedure.IntermediateFix},
	{words: []string{"intermediate"}, meaning: roleWord, role: procedure.IntermediateFix},
	{words: []string{"faf"}, meaning: roleWord, role: procedure.FinalFix},
	{words: []string{"pfaf"}, meaning: roleWord, role: procedure.FinalFix},
	{words: []string{"fap"}, meaning: roleWord, role: procedure.FinalFix},
	{words: []string{"final", "approach", "fix"}, meaning: roleWord, role: procedure.FinalFix},
	{words: []string{"final", "approach", "point"}, meaning: roleWord, role: procedure.FinalFix},
	{words: []string{"final", "fix"}, meaning: roleWord, role: procedure.FinalFix},
	{words: []string{"step"}, meaning: roleWord, role: procedure.StepDown},
	{words: []string{"step", "down"}, meaning: roleWord, role: procedure.StepDown},
	{words: []string{"step", "down", "fix"}, meaning: roleWord, role: procedure.StepDown},
	{words: []string{"step", "fix"}, meaning: roleWord, role: procedure.StepDown},
	{words: []string{"step-down"}, meaning: roleWord, role: procedure.StepDown},
	{words: []string{"step-down", "fix"}, meaning: roleWord, role: procedure.StepDown},
	{words: []string{"stepdown"}, meaning: roleWord, role: procedure.StepDown},
	{words: []string{"stepdown", "fix"}, meaning: roleWord, role: procedure.StepDown},
	{words: []string{"sdf"}, meaning: roleWord, role: procedure.StepDown},
	{words: []string{"pt"}, meaning: roleWord, role: procedure.ProcedureTurn},
	{words: []string{"proc", "turn"}, meaning: roleWord, role: procedure.ProcedureTurn},
	{words: []string{"procedure", "turn"}, meaning: roleWord, role: procedure.ProcedureTurn},
	{words: []string{"hold"}, meaning: roleWord, role: procedure.Hold},
	{words: []string{"holding"}, meaning: roleWord, role: procedure.Hold},
	{words: []string{"hilpt"}, meaning: roleWord, role: procedure.Hold},
	{words: []string{"hold", "in", "lieu"}, meaning: roleWord, role: procedure.Hold},
	{words: []string{"da"}, meaning: roleWord, role: procedure.DecisionAltitude},
	{words: []string{"decision", "altitude"}, meaning: roleWord, role: procedure.DecisionAltitude},
	{words: []string{"lpv"}, meaning: roleWord, role: procedure.DecisionAltitude, label: "LPV DA"},
	{words: []string{"lpv", "da"}, meaning: roleWord, role: procedure.DecisionAltitude, label: "LPV DA"},
	{words: []string{"mda"}, meaning: roleWord, role: procedure.MinimumDescent},
	{words: []string{"minimum", "descent", "altitude"}, meaning: roleWord, role: procedure.MinimumDescent},
	{words: []string{"minimums"}, meaning: roleWord, role: procedure.MinimumDescent, label: "minimums"},
	{words: []string{"minimum"}, meaning: roleWord, role: procedure.MinimumDescent, label: "minimums"},
	{words: []string{"minima"}, meaning: roleWord, role: procedure.MinimumDescent, label: "minimums"},
	{words: []string{"mins"}, meaning: roleWord, role: procedure.MinimumDescent, label: "minimums"},
	{words: []string{"ils", "da"}, meaning: roleWord, role: procedure.DecisionAltitude, label: "ILS DA"},
	{words: []string{"loc", "mda"}, meaning: roleWord, role: procedure.MinimumDescent, label: "LOC MDA"},
	{words: []string{"vor", "mda"}, meaning: roleWord, role: procedure.MinimumDescent, label: "VOR MDA"},
	{words: []string{"ndb", "mda"}, meaning: roleWord, role: procedure.MinimumDescent, label: "NDB MDA"},
	{words: []string{"lnav"}, meaning: roleWord, role: procedure.MinimumDescent, label: "LNAV MDA"},
	{words: []string{"lnav", "mda"}, meaning: roleWord, role: procedure.MinimumDescent, label: "LNAV MDA"},
	{words: []string{"lp"}, meaning: roleWord, role: procedure.MinimumDescent, label: "LP MDA"},
	{words: []string{"lp", "mda"}, meaning: roleWord, role: procedure.MinimumDescent, label: "LP MDA"},
	{words: []string{"lnav", "/", "vnav"}, meaning: roleWord, role: procedure.DecisionAltitude, label: "LNAV/VNAV DA"},
	{words: []string{"lnav", "/", "vnav", "da"}, meaning: roleWord, role: procedure.DecisionAltitude, label: "LNAV/VNAV DA"},
	{words: []string{"lnav-vnav"}, meaning: roleWord, role: procedure.DecisionAltitude, label: "LNAV/VNAV DA"},
	{words: []string{"vnav"}, meaning: roleWord, role: procedure.DecisionAltitude, label: "LNAV/VNAV DA"},
	{words: []string{"circling"}, meaning: roleWord, role: procedure.Circling},
	{words: []string{"circle"}, meaning: roleWord, role: procedure.Circling},
	{words: []string{"circ"}, meaning: roleWord, role: procedure.Circling},
	{words: []string{"circling", "mda"}, meaning: roleWord, role: procedure.Circling},
	{words: []string{"missed"}, meaning: roleWord, role: procedure.MissedHold},
	{words: []string{"missed", "app"}, meaning: roleWord, role: procedure.MissedHold},
	{words: []string{"missed", "appr"}, meaning: roleWord, role: procedure.MissedHold},
	{words: []string{"missed", "approach"}, meaning: roleWord, role: procedure.MissedHold},
	{words: []string{"missed", "hold"}, meaning: roleWord, role: procedure.MissedHold},
	{words: []string{"missed", "approach", "hold"}, meaning: roleWord, role: procedure.MissedHold},
	{words: []string{"missed", "holding"}, meaning: roleWord, role: procedure.MissedHold},
	{words: []string{"mahf"}, meaning: roleWord, role: procedure.MissedHold},
	{words: []string{"msa"}, meaning: roleWord, role: procedure.SectorAltitude},
	{words: []string{"sector"}, meaning: roleWord, role: procedure.SectorAltitude},
	{words: []string{"taa"}, meaning: roleWord, role: procedure.ArrivalArea},

	{words: []string{"compensated"}, meaning: compensatedWord, label: "yes"},
	{words: []string{"compensated", "yes"}, meaning: compensatedWord, label: "yes"},
	{words: []string{"compensated", "no"}, meaning: compensatedWord, label: "no"},
	{words: []string{"uncompensated"}, meaning: compensatedWord, label: "no"},
	{words: []string{"not", "compensated"}, meaning: compensatedWord, label: "no"},

	{words: []string{"elev"}, meaning: elevationWord},
	{words: []string{"elevation"}, meaning: elevationWord},
	{words: []string{"field", "elev"}, meaning: elevationWord},
	{words: []string{"field", "elevation"}, meaning: elevationWord},
	{words: []string{"airport", "elevation"}, meaning: elevationWord},
	{words: []string{"msl"}, meaning: seaWord},
	{words: []string{"amsl"}, meaning: seaWord},
	{words: []string{"agl"}, meaning: heightWord},
	{words: []string{"aal"}, meaning: heightWord},
	{words: []string{"hat"}, meaning: heightWord},
	{words: []string{"haa"}, meaning: heightWord},
	{words: []string{"above", "field"}, meaning: heightWord},
	{words: []string{"above", "the", "field"}, meaning: heightWord},
	{words: []string{"above", "airport"}, meaning: heightWord},
	{words: []string{"above", "the", "airport"}, meaning: heightWord},

	{words: []string{"ft"}, meaning: feetWord},
	{words: []string{"feet"}, meaning: feetWord},
	{words: []string{"foot"}, meaning: feetWord},
	{words: []string{"m"}, meaning: metreWord},
	{words: []string{"metres"}, meaning: metreWord},
	{words: []string{"metre"}, meaning: metreWord},
	{words: []string{"meters"}, meaning: metreWord},
	{words: []string{"meter"}, meaning: metreWord},
	{words: []string{"mtr"}, meaning: metreWord},
	{words: []string{"c"}, meaning: celsiusWord},
	{words: []string{"celsius"}, meaning: celsiusWord},
	{words: []string{"deg", "c"}, meaning: celsiusWord},
	{words: []string{"degrees", "c"}, meaning: celsiusWord},
	{words: []string{"degrees", "celsius"}, meaning: celsiusWord},
	{words: []string{"deg"}, meaning: celsiusWord},
	{words: []string{"degrees"}, meaning: celsiusWord},
	{words: []string{"f"}, meaning: fahrenheitWord},
	{words: []string{"fahrenheit"}, meaning: fahrenheitWord},
	{words: []string{"deg", "f"}, meaning: fahrenheitWord},
	{words: []string{"degrees", "f"}, meaning: fahrenheitWord},
	{words: []string{"degrees", "fahrenheit"}, meaning: fahrenheitWord},
	{words: []string{"minus"}, meaning: minusWord},
	{words: []string{"neg"}, meaning: minusWord},
	{words: []string{"negative"}, meaning: minusWord},
	{words: []string{"plus"}, meaning: plusWord},
	{words: []string{"temp"}, meaning: temperatureWord},
	{words: []string{"temperature"}, meaning: temperatureWord},
	{words: []string{"oat"}, meaning: temperatureWord},
	{words: []string{"t"}, meaning: temperatureWord},
	{words: []string{"fl"}, meaning: flightLevelWord},
	{words: []string{"flight", "level"}, meaning: flightLevelWord},

	{words: []string{"rnp"}, meaning: procedureWord},
	{words: []string{"rnav"}, meaning: procedureWord},
	{words: []string{"gps"}, meaning: procedureWord},
	{words: []string{"ils"}, meaning: procedureWord},
	{words: []string{"loc"}, meaning: procedureWord},
	{words: []string{"lda"}, meaning: procedureWord},
	{words: []string{"vor"}, meaning: procedureWord},
	{words: []string{"ndb"}, meaning: procedureWord},
	{words: []string{"tacan"}, meaning: procedureWord},
	{words: []string{"runway"}, meaning: runwayWord},
	{words: []string{"rwy"}, meaning: runwayWord},
	{words: []string{"dh"}, meaning: heightMinimum, role: procedure.DecisionAltitude},
	{words: []string{"decision", "height"}, meaning: heightMinimum, role: procedure.DecisionAltitude},
	{words: []string{"mdh"}, meaning: heightMinimum, role: procedure.MinimumDescent},
	{words: []string{"minimum", "descent", "height"}, meaning: heightMinimum, role: procedure.MinimumDescent},
	{words: []string{"sid"}, meaning: notCorrected},
	{words: []string{"departure"}, meaning: notCorrected},
	{words: []string{"odp"}, meaning: notCorrected},
	{words: []string{"star"}, meaning: notCorrected},
	{words: []string{"arrival"}, meaning: notCorrected},
	{words: []string{"assigned"}, meaning: notCorrected},
	{words: []string{"mva"}, meaning: notCorrected},
	{words: []string{"mia"}, meaning: notCorrected},

	{words: []string{"please"}, meaning: filler},
	{words: []string{"pls"}, meaning: filler},
	{words: []string{"thanks"}, meaning: filler},
	{words: []string{"hi"}, meaning: filler},
	{words: []string{"hello"}, meaning: filler},
	{words: []string{"hey"}, meaning: filler},
	{words: []string{"firn"}, meaning: filler},
	{words: []string{"correct"}, meaning: filler},
	{words: []string{"correction"}, meaning: filler},
	{words: []string{"corrections"}, meaning: filler},
	{words: []string{"altitude"}, meaning: filler},
	{words: []string{"altitudes"}, meaning: filler},
	{words: []string{"alt"}, meaning: filler},
	{words: []string{"alts"}, meaning: filler},
	{words: []string{"station"}, meaning: filler},
	{words: []string{"at"}, meaning: filler},
	{words: []string{"for"}, meaning: filler},
	{words: []string{"and"}, meaning: filler},
	{words: []string{"with"}, meaning: filler},
	{words: []string{"the"}, meaning: filler},
	{words: []string{"is"}, meaning: filler},
	{words: []string{"now"}, meaning: filler},
	{words: []string{"also"}, meaning: filler},
	{words: []string{"wx"}, meaning: filler},
	{words: []string{"ask"}, meaning: filler},
	{words: []string{"or", "above"}, meaning: filler}, // at or above, as most are published
	{words: []string{"at", "or", "above"}, meaning: filler},
	{words: []string{"what"}, meaning: filler},
	{words: []string{"what's"}, meaning: filler},
	{words: []string{"whats"}, meaning: filler},
	{words: []string{"it"}, meaning: filler},
	{words: []string{"it's"}, meaning: filler},
	{words: []string{"its"}, meaning: filler},
	{words: []string{"are"}, meaning: filler},
	{words: []string{"there"}, meaning: filler},
	{words: []string{"can"}, meaning: filler},
	{words: []string{"you"}, meaning: filler},
	{words: []string{"we"}, meaning: filler},
	{words: []string{"i"}, meaning: filler},
	{words: []string{"need"}, meaning: filler},
	{words: []string{"give"}, meaning: filler},
	{words: []string{"my"}, meaning: filler},
	{words: []string{"corrected"}, meaning: filler},
	{words: []string{"here"}, meaning: filler},
	{words: []string{"everyone"}, meaning: filler},

	{words: []string{"why"}, meaning: verbWord, verb: Why},
	{words: []string{"picture"}, meaning: verbWord, verb: Picture},
	{words: []string{"card"}, meaning: verbWord, verb: Card},
	{words: []string{"post"}, meaning: verbWord, verb: Post},
	{words: []string{"a5"}, meaning: paperWord, label: "a5"},
	{words: []string{"letter"}, meaning: paperWord, label: "half-letter"},
	{words: []string{"half-letter"}, meaning: paperWord, label: "half-letter"},
	{words: []string{"half", "letter"}, meaning: paperWord, label: "half-letter"},
	{words: []string{"help"}, meaning: verbWord, verb: Help},
	{words: []string{"rules"}, meaning: verbWord, verb: Rules},
	{words: []string{"check"}, meaning: verbWord, verb: Check},
	{words: []string{"withdraw"}, meaning: verbWord, verb: Withdraw},
	{words: []string{"recompute"}, meaning: verbWord, verb: Recompute},
	{words: []string{"watch"}, meaning: verbWord, verb: Watch},
	{words: []string{"obs"}, meaning: verbWord, verb: Observe},
	{words: []string{"ack"}, meaning: verbWord, verb: Acknowledge},
	{words: []string{"acknowledge"}, meaning: verbWord, verb: Acknowledge},
	{words: []string{"snooze"}, meaning: verbWord, verb: Snooze},
	{words: []string{"log"}, meaning: verbWord, verb: Log},
	{words: []string{"brief"}, meaning: verbWord, verb: Brief},
	{words: []string{"route"}, meaning: verbWord, verb: Route},
	{words: []string{"add"}, meaning: verbWord, verb: Add},
	{words: []string{"remove"}, meaning: verbWord, verb: Remove},
	{words: []string{"drop"}, meaning: verbWord, verb: Remove},
	{words: []string{"same"}, meaning: verbWord, verb: Same},
})

func byFirstWord(list []phrase) map[string][]phrase {
	m := make(map[string][]phrase, len(list))
	for _, p := range list {
		m[p.words[0]] = append(m[p.words[0]], p)
	}
	return m
}

// match finds the longest known phrase that begins at tokens[i].
func match(tokens []token, i int) (phrase, int) {
	var best phrase
	n := 0
	for _, p := range phrases[tokens[i].word] {
		if len(p.words) > n && begins(tokens[i:], p.words) {
			best, n = p, len(p.words)
		}
	}
	return best, n
}

func begins(tokens []token, words []string) bool {
	if len(tokens) < len(words) {
		return false
	}
	for i, w := range words {
		if tokens[i].word != w || w == "/" && !tokens[i].tight {
			return false
		}
	}
	return true
}
