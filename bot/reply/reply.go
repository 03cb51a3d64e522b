package reply

import (
	"encoding/json"
	"math"
	"strconv"
)

// Kind says what a reply is.
type Kind string

// The kinds.
const (
	KindCorrection Kind = "correction"
	KindStatus     Kind = "status"
	KindQuestion   Kind = "question" // the message needs fixing or completing
	KindError      Kind = "error"    // the message cannot be read at all
	KindHelp       Kind = "help"
	KindRules      Kind = "rules"
	KindAlert      Kind = "alert"    // the watch's word on a base
	KindDigest     Kind = "digest"   // the watch's word on all bases of a channel
	KindWatch      Kind = "watch"    // the state of every base
	KindNotice     Kind = "notice"   // what became of something that somebody did
	KindLog        Kind = "log"      // results of the record
	KindStations   Kind = "stations" // fields that were looked for
	KindMine       Kind = "mine"     // what concerns one person now
	KindNote       Kind = "note"     // thanks, an "ok": nothing needs an answer
)

// Reply is one answer. Absent means not applicable.
type Reply struct {
	Kind              Kind          `json:"kind"`
	Station           Station       `json:"station,omitzero"`
	TemperatureC      OptFloat      `json:"temperature_c,omitzero"`
	TemperatureSource string        `json:"temperature_source,omitempty"`
	Rules             string        `json:"rules,omitempty"`
	RulesVersion      string        `json:"rules_version,omitempty"`
	Unverified        string        `json:"unverified,omitempty"`
	Method            string        `json:"method,omitempty"`
	Picture           string        `json:"picture,omitempty"`      // that was asked for: profile, curve, day, card
	PictureOf         string        `json:"picture_of,omitempty"`   // the base of a day, the record of a card
	Paper             string        `json:"paper,omitempty"`        // of a card: a5, half-letter, letter
	Procedure         string        `json:"procedure,omitempty"`    // the stored one that the altitudes are of
	FlownAs           string        `json:"flown_as,omitempty"`     // what crews call it where they fly another line of it, as loc 12 of ils 12; empty: Procedure
	PathDeg           OptFloat      `json:"path_deg,omitzero"`      // of the published vertical path
	EffectiveDeg      OptFloat      `json:"effective_deg,omitzero"` // really flown at this temperature, uncompensated
	SBAS              bool          `json:"sbas,omitempty"`         // taken: satellite vertical guidance
	Compensated       bool          `json:"compensated,omitempty"`  // taken: the corrected altitudes are a cross-check, about
	Required          OptBool       `json:"required,omitzero"`      // absent where it cannot be known
	Line              string        `json:"line,omitempty"`         // what to type for the same again: what was typed, where that says all of it
	Headline          string        `json:"headline,omitempty"`     // station, procedure, temperature, verdict; at most 60 characters
	Stops             []Stop        `json:"stops,omitempty"`        // what forbids, and what is forbidden
	Call              *Call         `json:"call,omitempty"`         // the one message for the way the crew comes in
	Notes             []string      `json:"notes,omitempty"`        // what must be read beside the figures: a word that was not used
	Facts             []string      `json:"facts,omitempty"`
	Altitudes         []Row         `json:"altitudes,omitempty"`
	Requests          []Request     `json:"requests,omitempty"`
	Cautions          []Caution     `json:"cautions,omitempty"`
	Working           []Working     `json:"working,omitempty"`
	Sections          []Section     `json:"sections,omitempty"`
	Source            string        `json:"source,omitempty"`
	Problem           *Problem      `json:"problem,omitempty"`
	Alert             *Cold         `json:"alert,omitempty"`
	Digest            *Digest       `json:"digest,omitempty"` // of a digest and its parts
	Bases             []Cold        `json:"bases,omitempty"`
	Mine              *Mine         `json:"mine,omitempty"`
	Stations          []Field       `json:"stations,omitempty"` // that were looked for
	Arrivals          []Arrival     `json:"arrivals,omitempty"`
	Expected          []ArrivalPlan `json:"expected,omitempty"` // of an alert: the corrections at its low, a procedure each
	Route             *OnRoute      `json:"route,omitempty"`
	Record            *RecordStatus `json:"record,omitempty"`
	Confirm           string        `json:"confirm,omitempty"` // the record whose figures are asked about before they are checked
	Enter             *BlindCheck   `json:"enter,omitempty"`
	Actions           []Action      `json:"actions,omitempty"`
}

// Station is the airfield of a reply.
type Station struct {
	Ident       string  `json:"ident,omitempty"`
	Name        string  `json:"name,omitempty"`
	ElevationFt float64 `json:"elevation_ft"`
	Known       bool    `json:"-"` // also a field without an ident at 0 ft
}

// IsZero says that no station is known.
func (s Station) IsZero() bool { return s == Station{} }

// Field is one airfield among those that were looked for.
type Field struct {
	Ident        string   `json:"ident"`
	Name         string   `json:"name,omitempty"`
	ElevationFt  OptFloat `json:"elevation_ft,omitzero"`
	RestrictionC OptFloat `json:"restriction_c,omitzero"`
	Segments     []string `json:"segments,omitempty"` // the designated ones; absent: all, or not said
	DistanceNM   OptFloat `json:"distance_nm,omitzero"`
	Listed       bool     `json:"listed,omitempty"` // a list knows it, not the configuration
}

// UnmarshalJSON reads a station, which is known.
func (s *Station) UnmarshalJSON(data []byte) error {
	type plain Station
	err := json.Unmarshal(data, (*plain)(s))
	s.Known = err == nil
	return err
}

// Row is one altitude. Figures are in feet; PublishedM and CorrectedM are
// given where the altitude was typed in metres.
type Row struct {
	Label   string `json:"label,omitempty"`
	Fix     string `json:"fix,omitempty"`
	Segment string `json:"segment,omitempty"`
	// Via are the ways in that lead over it, by the fix each begins at; absent
	// where all do.
	Via          []string `json:"via,omitempty"`
	Meaning      string   `json:"meaning,omitempty"`
	PublishedFt  float64  `json:"published_ft"`
	HeightFt     float64  `json:"height_ft"`
	CorrectionFt float64  `json:"correction_ft"`
	CorrectedFt  float64  `json:"corrected_ft"`
	// The upper bounds of an altitude between two; stored replies may have them
	// as upper_published_ft and upper_corrected_ft.
	UpperPublishedFt float64 `json:"published2_ft,omitzero"`
	UpperCorrectedFt float64 `json:"corrected2_ft,omitzero"`
	PublishedM       float64 `json:"published_m,omitzero"`
	CorrectedM       float64 `json:"corrected_m,omitzero"`
	Required         bool    `json:"required"`
	Report           bool    `json:"report"`
	// NoAltitude says that none is published at the fix: the figures are absent.
	NoAltitude bool  `json:"no_altitude,omitempty"`
	State      State `json:"state,omitempty"`
	// Mark is the word beside an exception: not usable, as published, if you
	// choose, LNAV only, by hand, emergency.
	Mark string `json:"mark,omitempty"`
	// Where the aeroplane really is at the published and at the corrected
	// altitude, in feet above mean sea level.
	TrueUncorrectedFt float64 `json:"true_uncorrected_ft,omitzero"`
	TrueCorrectedFt   float64 `json:"true_corrected_ft,omitzero"`
	Why               string  `json:"why"`
}

// MarshalJSON leaves the figures of a fix without an altitude out.
func (r Row) MarshalJSON() ([]byte, error) {
	type plain Row
	if !r.NoAltitude {
		return json.Marshal(plain(r))
	}
	return json.Marshal(struct {
		Label      string   `json:"label,omitempty"`
		Fix        string   `json:"fix,omitempty"`
		Segment    string   `json:"segment,omitempty"`
		Via        []string `json:"via,omitempty"`
		NoAltitude bool     `json:"no_altitude"`
		Required   bool     `json:"required"`
		Report     bool     `json:"report"`
		Why        string   `json:"why"`
	}{r.Label, r.Fix, r.Segment, r.Via, true, r.Required, r.Report, r.Why})
}

// UnmarshalJSON reads a row, also one that was stored with the upper bounds
// under their older names.
func (r *Row) UnmarshalJSON(data []byte) error {
	type plain Row
	was := struct {
		*plain
		Published float64 `json:"upper_published_ft"`
		Corrected float64 `json:"upper_corrected_ft"`
	}{plain: (*plain)(r)}
	if err := json.Unmarshal(data, &was); err != nil {
		return err
	}
	if was.Published != 0 {
		r.UpperPublishedFt, r.UpperCorrectedFt = was.Published, was.Corrected
	}
	return nil
}

// State says how an altitude is flown; empty where it cannot be known whether
// a correction is required.
type State string

// The states.
const (
	StateRequired  State = "required"
	StateAdvised   State = "advised"
	StateUnchanged State = "unchanged"  // the published figure is what to fly
	StateNotUsable State = "not-usable" // a stop forbids the line
)

// Stop is something that forbids: a line of minimums, or the whole procedure.
type Stop struct {
	Code string `json:"code"` // baro-limit, remote-source, edition, age
	Text string `json:"text"`
}

// Call is the message to air traffic control, ready to be read aloud.
type Call struct {
	Way    string `json:"way"`            // vectors, vectors-inside, via, hold, procedure-turn, traffic
	When   string `json:"when,omitempty"` // where it is conditional
	Text   string `json:"text"`
	Spoken string `json:"spoken"`
	Source string `json:"source,omitempty"` // of its words, with how far an amount reaches
}

// Request is a sentence for air traffic control.
type Request struct {
	When   string `json:"when"`
	Text   string `json:"text"`
	Spoken string `json:"spoken"`
	Source string `json:"source,omitempty"`
}

// Caution is one short caution.
type Caution struct {
	Code     CautionCode `json:"code"`
	Text     string      `json:"text"`
	Standing bool        `json:"standing,omitempty"` // of every answer, not of this one alone
}

// Working is how one altitude came about; its figures are not rounded.
type Working struct {
	PublishedFt float64        `json:"published_ft"`
	Name        string         `json:"name,omitempty"`
	Methods     []MethodFigure `json:"methods"`
	ErrorFt     float64        `json:"error_ft"`
	Steps       []Step         `json:"steps"`
}

// MethodFigure is the same altitude by one method.
type MethodFigure struct {
	Method       string  `json:"method"`
	CorrectionFt float64 `json:"correction_ft"`
}

// Step is one line of working with the source of its figures.
type Step struct {
	Text   string `json:"text"`
	Source string `json:"source,omitempty"`
}

// Section is a titled list of lines, for help and the rule sets.
type Section struct {
	Title string   `json:"title"`
	Lines []string `json:"lines"`
}

// Problem says what is wrong with which word and what to type instead.
type Problem struct {
	Word string `json:"word,omitempty"`
	Text string `json:"text"`
	Try  string `json:"try,omitempty"` // empty where no line could be right
}

// Action is something a surface may offer as a button, a link or a hint;
// Message is what pressing it asks. Whole asks the same without the answer
// that it stands under: a button may be pressed days later, or below a newer
// answer.
type Action struct {
	ID      string `json:"id"`
	Label   string `json:"label"`
	Message string `json:"message"`
	Whole   string `json:"whole,omitempty"`
}

// Asks is what a button under an answer asks, whenever it is pressed.
func (a Action) Asks() string {
	if a.Whole != "" {
		return a.Whole
	}
	return a.Message
}

// BlindCheck is what is asked of a second person who checks blind: the corrected
// altitudes from their own table, in this order.
type BlindCheck struct {
	Record    string   `json:"record"`
	Altitudes []string `json:"altitudes"` // published, as people say them: FAF 8200
}

// Ask makes the reply to a message that needs fixing.
func Ask(p Problem) Reply { return Reply{Kind: KindQuestion, Problem: &p} }

// Refuse makes the reply to a message that cannot be read at all.
func Refuse(p Problem) Reply { return Reply{Kind: KindError, Problem: &p} }

// OptFloat is a number that may be absent.
type OptFloat struct {
	Value float64
	OK    bool
}

// Some is a figure that is there.
func Some(v float64) OptFloat { return OptFloat{v, true} }

// IsZero says that the figure is absent.
func (f OptFloat) IsZero() bool { return !f.OK }

// MarshalJSON writes the number.
func (f OptFloat) MarshalJSON() ([]byte, error) {
	return strconv.AppendFloat(nil, f.Value, 'f', -1, 64), nil
}

// UnmarshalJSON reads the number.
func (f *OptFloat) UnmarshalJSON(data []byte) error {
	v, err := strconv.ParseFloat(string(data), 64)
	*f = OptFloat{v, err == nil}
	return err
}

// OptBool is yes, no, or not applicable.
type OptBool uint8

// The truths; NotApplicable is the zero value.
const (
	NotApplicable OptBool = iota
	No
	Yes
)

// OptBoolOf turns a bool into a Truth.
func OptBoolOf(b bool) OptBool {
	if b {
		return Yes
	}
	return No
}

// IsZero says that the question does not apply.
func (t OptBool) IsZero() bool { return t == NotApplicable }

// MarshalJSON writes true or false.
func (t OptBool) MarshalJSON() ([]byte, error) {
	return strconv.AppendBool(nil, t == Yes), nil
}

// UnmarshalJSON reads true or false.
func (t *OptBool) UnmarshalJSON(data []byte) error {
	b, err := strconv.ParseBool(string(data))
	*t = OptBoolOf(b)
	return err
}

// cents keeps two decimals; up says that the figure may only grow.
func cents(v float64) float64 { return math.Round(v*100) / 100 }

func centsUp(v float64) float64 { return math.Ceil(v*100-1e-6)/100 + 0 } // nothing is "-0 ft"
