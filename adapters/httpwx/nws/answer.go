package nws

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"

	"firn/adapters/httpwx/fetch"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

// cellForm is office/x,y, alone or in the address of a forecast.
var (
	cellForm    = regexp.MustCompile(`^[A-Z]{3}/[0-9]{1,4},[0-9]{1,4}$`)
	cellAddress = regexp.MustCompile(`/gridpoints/([A-Z]{3}/[0-9]{1,4},[0-9]{1,4})/`)
)

// readPoint gives the grid cell of a place as office/x,y; empty: the service
// makes no forecast there.
func readPoint(a fetch.Answer) (string, error) {
	if a.None {
		return "", nil
	}
	var p struct {
		Properties *struct {
			Office string      `json:"gridId"`
			X      json.Number `json:"gridX"`
			Y      json.Number `json:"gridY"`
			Hourly string      `json:"forecastHourly"`
		} `json:"properties"`
	}
	if err := json.Unmarshal(a.Body, &p); err != nil {
		return "", fmt.Errorf("no JSON of a point: %w", err)
	}
	if p.Properties == nil {
		return "", errors.New("the point has no properties")
	}
	cell := p.Properties.Office + "/" + p.Properties.X.String() + "," + p.Properties.Y.String()
	if cellForm.MatchString(cell) {
		return cell, nil
	}
	if m := cellAddress.FindStringSubmatch(p.Properties.Hourly); m != nil {
		return m[1], nil
	}
	return "", errors.New("the point names no grid cell")
}

// horizon is how much of the forecast is kept: a watch looks 36 h ahead of a
// morning hour.
const horizon = 72 * time.Hour

// period is one hour of the answer; Raw keeps it in this form.
type period struct {
	Start       string          `json:"startTime"`
	End         string          `json:"endTime"`
	Temperature json.RawMessage `json:"temperature"`
	Unit        string          `json:"temperatureUnit,omitempty"`
}

type hour struct {
	from, to time.Time
	c        engine.Celsius
}

// readHourly makes a forecast of an hourly answer, without its station. A
// period with a null temperature is skipped and leaves a gap. One that cannot
// be read fails the whole: it might be the coldest. Empty Hourly: no forecast.
//
// Raw is the part of the answer that is used, as JSON; the whole is a hundred
// kilobytes.
func readHourly(a fetch.Answer) (weather.Forecast, error) {
	if a.None {
		return weather.Forecast{}, nil
	}
	var body struct {
		Properties *struct {
			Updated   string   `json:"updateTime"`
			Generated string   `json:"generatedAt"`
			Periods   []period `json:"periods"`
		} `json:"properties"`
	}
	if err := json.Unmarshal(a.Body, &body); err != nil {
		return weather.Forecast{}, fmt.Errorf("no JSON of an hourly forecast: %w", err)
	}
	if body.Properties == nil {
		return weather.Forecast{}, errors.New("the forecast has no properties")
	}
	p := body.Properties
	issued, err := time.Parse(time.RFC3339, p.Updated)
	if err != nil {
		if issued, err = time.Parse(time.RFC3339, p.Generated); err != nil {
			return weather.Forecast{}, errors.New("the forecast does not say when it was made")
		}
	}
	hours, used, err := readPeriods(p.Periods)
	if err != nil || len(hours) == 0 {
		return weather.Forecast{}, err
	}
	raw, err := json.Marshal(struct {
		Updated string   `json:"updateTime"`
		Periods []period `json:"periods"`
	}{p.Updated, used})
	if err != nil {
		return weather.Forecast{}, err
	}
	f := weather.Forecast{Raw: string(raw), Received: a.Received}
	f.Source, f.Issued = label, issued.UTC()
	f.Hourly, f.ValidTo = curve(hours)
	f.ValidFrom = f.Hourly[0].At
	return f, nil
}

func readPeriods(all []period) (hours []hour, used []period, err error) {
	var first time.Time
	for i, p := range all {
		c, ok, err := celsius(p)
		if err != nil {
			return nil, nil, fmt.Errorf("period %d: %w", i+1, err)
		}
		if !ok {
			continue
		}
		from, err1 := time.Parse(time.RFC3339, p.Start)
		to, err2 := time.Parse(time.RFC3339, p.End)
		if err1 != nil || err2 != nil || !to.After(from) || to.Sub(from) > 24*time.Hour {
			return nil, nil, fmt.Errorf("period %d has no times that can be read", i+1)
		}
		if y := from.UTC().Year(); y < 1970 || y > 9000 {
			return nil, nil, fmt.Errorf("period %d is in the year %d", i+1, y)
		}
		if first.IsZero() || from.Before(first) {
			first = from
		}
		hours = append(hours, hour{from.UTC(), to.UTC(), c})
		used = append(used, p)
	}
	end := first.Add(horizon)
	for i := len(hours) - 1; i >= 0; i-- {
		if !hours[i].from.Before(end) {
			hours, used = slices.Delete(hours, i, i+1), slices.Delete(used, i, i+1)
		}
	}
	slices.SortStableFunc(hours, func(a, b hour) int { return a.from.Compare(b.from) })
	return hours, used, nil
}

// celsius is a period's temperature; false: null. It is a number in the unit
// beside it (Fahrenheit where none is given), or an object with its own.
func celsius(p period) (engine.Celsius, bool, error) {
	text := strings.TrimSpace(string(p.Temperature))
	if text == "" || text == "null" {
		return 0, false, nil
	}
	unit := cmp.Or(p.Unit, "F")
	var value *float64
	if text[0] == '{' {
		var q struct {
			Unit  string   `json:"unitCode"`
			Value *float64 `json:"value"`
		}
		if err := json.Unmarshal(p.Temperature, &q); err != nil {
			return 0, false, errors.New("its temperature cannot be read")
		}
		value = q.Value
		unit = q.Unit[strings.LastIndexByte(q.Unit, ':')+1:] // wmoUnit:degC, unit:degC
	} else if err := json.Unmarshal(p.Temperature, &value); err != nil {
		return 0, false, errors.New("its temperature cannot be read")
	}
	if value == nil {
		return 0, false, nil
	}
	var c engine.Celsius
	switch unit {
	case "F", "degF":
		c = engine.Fahrenheit(*value).Celsius()
	case "C", "degC":
		c = engine.Celsius(*value)
	default:
		return 0, false, fmt.Errorf("its temperature is in %q", unit)
	}
	if math.Abs(float64(c)) > 100 {
		return 0, false, fmt.Errorf("its temperature of %v °C is none that air can have", float64(c))
	}
	return c, true, nil
}

// curve makes a sample of each period, at its start: coldwatch holds a value
// until the next one, and the last until ValidTo. A period longer than
// coldwatch.Step has one at each step, since it holds to its end. Where periods
// overlap, the colder stands.
func curve(hours []hour) (all []coldwatch.Sample, end time.Time) {
	var before hour
	for _, h := range hours {
		if h.from.Before(before.to) {
			h.c = min(h.c, before.c)
			h.to = latest(h.to, before.to)
		}
		before = h
		for at := h.from; at.Before(h.to); at = at.Add(coldwatch.Step) {
			for len(all) > 0 && !all[len(all)-1].At.Before(at) {
				all = all[:len(all)-1] // of a period that this one overlaps
			}
			all = append(all, coldwatch.Sample{At: at, C: h.c})
		}
		end = latest(end, h.to)
	}
	return all, end
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
