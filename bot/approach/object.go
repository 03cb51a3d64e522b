package approach

// Object is an approach in the JSON form of "firn import cifp --dry-run
// --json". Programs outside this repository rely on it; fields are added,
// never changed.
type Object struct {
	Ident     string      `json:"ident"`
	Procedure string      `json:"procedure"` // the coded identifier
	Name      string      `json:"name"`
	Runway    string      `json:"runway,omitempty"`
	Cycle     string      `json:"cycle,omitempty"`
	Effective string      `json:"effective,omitempty"`
	End       string      `json:"end,omitempty"`
	Unread    int         `json:"unread,omitempty"` // records of it that could not be read
	Legs      []LegObject `json:"legs"`
}

// LegObject is one leg of an Object.
type LegObject struct {
	Route      string   `json:"route"` // the route type letter of a coded file; else transition, final, missed
	Transition string   `json:"transition,omitempty"`
	Sequence   int      `json:"sequence"`
	Fix        string   `json:"fix,omitempty"`
	Role       string   `json:"role,omitempty"`
	Initial    bool     `json:"initial,omitempty"` // an initial approach fix, whatever the role
	Segment    string   `json:"segment,omitempty"`
	Path       string   `json:"path,omitempty"`
	Meaning    string   `json:"meaning,omitempty"`
	Limit      string   `json:"limit,omitempty"` // of altitude_ft, where meaning tells what altitude2_ft is
	Altitude   *float64 `json:"altitude_ft,omitempty"`
	Altitude2  *float64 `json:"altitude2_ft,omitempty"`
	Angle      *float64 `json:"angle_deg,omitempty"` // as coded: down is negative
}

// Object gives the JSON form.
func (a *Approach) Object() Object {
	o := Object{Ident: a.Ident, Procedure: a.Code, Name: a.Name, Runway: a.Runway, Cycle: a.Cycle, Unread: a.Unread, Legs: make([]LegObject, len(a.Legs))}
	if !a.Effective.IsZero() {
		o.Effective = a.Effective.Format("2006-01-02")
	}
	if !a.End.IsZero() {
		o.End = a.End.Format("2006-01-02")
	}
	for i := range a.Legs {
		o.Legs[i] = a.Legs[i].object()
	}
	return o
}

func (l *Leg) object() LegObject {
	o := LegObject{Transition: l.Transition, Sequence: l.Sequence, Fix: l.Fix, Role: l.Role.String(),
		Initial: l.Initial, Segment: l.Segment.String(), Path: l.Path.String(), Meaning: l.Meaning()}
	if o.Route = l.Route.String(); l.Coded != 0 {
		o.Route = string(rune(l.Coded))
	}
	if l.Limit != NoAltitude {
		ft := float64(l.Altitude)
		o.Altitude = &ft
	}
	if l.Second != NoSecond {
		ft := float64(l.Altitude2)
		o.Altitude2 = &ft
		if l.Second != Lower {
			o.Limit = l.Limit.String()
		}
	}
	if l.HasAngle {
		down := -float64(l.Angle)
		o.Angle = &down
	}
	return o
}
