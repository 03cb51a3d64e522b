package approach

import (
	"strings"

	"firn/engine/speech"
)

// onAir are the kinds as they are said to air traffic control, after the
// chart's title; RNAV (GPS) and RNAV (RNP) are both RNAV.
var onAir = [...]string{
	NoKind: "", ILS: "ILS", Localizer: "localizer", BackCourse: "localizer back course", LDA: "LDA", SDF: "SDF", GLS: "GLS", MLS: "MLS", IGS: "IGS",
	RNAV: "RNAV", RNP: "RNAV", GPS: "GPS", FMS: "FMS", VOR: "VOR", VORDME: "VOR DME", NDB: "NDB", NDBDME: "NDB DME", TACAN: "TACAN",
}

// letters of the alphabet as they are spelled (Annex 10 Vol II, 5.2.1.3).
var letters = [...]string{
	"Alpha", "Bravo", "Charlie", "Delta", "Echo", "Foxtrot", "Golf", "Hotel", "India", "Juliett", "Kilo", "Lima", "Mike", "November",
	"Oscar", "Papa", "Quebec", "Romeo", "Sierra", "Tango", "Uniform", "Victor", "Whiskey", "X-ray", "Yankee", "Zulu",
}

var sideNames = map[string]string{"L": "left", "R": "right", "C": "center"}

// Radio is the approach as it is named to air traffic control, written and
// spoken: "RNAV Zulu runway 16", "RNAV Zulu runway one six". line is the line
// of minimums that was chosen, where it names the approach: loc of an ILS.
func (a *Approach) Radio(line string) (written, spoken string) {
	kind := onAir[a.Kind]
	switch {
	case a.Kind == RNP && a.PlainRNP:
		kind = "RNP"
	case a.Kind == ILS && line == "loc":
		kind = onAir[Localizer]
	}
	words := []string{kind}
	if a.Course != "" {
		words = []string{"copter", kind}
	}
	if len(a.Letter) == 1 && a.Letter[0] >= 'A' && a.Letter[0] <= 'Z' {
		words = append(words, letters[a.Letter[0]-'A'])
	}
	said := words[:len(words):len(words)]
	switch number, side := a.Runway, ""; {
	case number != "":
		if n := len(number) - 1; sideNames[number[n:]] != "" {
			number, side = number[:n], " "+sideNames[number[n:]]
		}
		words = append(words, "runway", number+side)
		said = append(said, "runway", digits(number)+side)
	case a.Course != "":
		words, said = append(words, a.Course), append(said, digits(a.Course))
	}
	return strings.Join(words, " "), strings.Join(said, " ")
}

// digits says a number as it is written, zeros in front too.
func digits(number string) string {
	words := make([]string, 0, 3)
	for _, c := range number {
		words = append(words, speech.Digits(int(c-'0')))
	}
	return strings.Join(words, " ")
}
