package folder

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"firn/bot/weather"
)

// A demo file's name ends in .demo.txt. Its times are written as shifts from
// a full hour, so that the reports in it are fresh on any date:
//
//	METAR XKLD {DDHHMM-7m}Z 00000KT CAVOK M31/M35 Q1031
//	TAF XKLD {DDHHMM-30m}Z {DDHH-6h}/{DDHH+24h} 00000KT CAVOK TNM31/{DDHH+9h}Z
//
// DDHHMM, DDHH, DD, HH and MM are the day, hour and minute in UTC; a shift has
// a sign, a number and h or m. A METAR counts from the last full hour, as one
// is made every hour; a TAF from the last of 00, 06, 12 and 18 UTC, as one is
// made every six. Every process reads the same at the same time. Each report
// begins with METAR or TAF, and people see "(demo)" behind its source.
func isDemo(name string) bool { return strings.HasSuffix(strings.ToLower(name), ".demo.txt") }

const tafEvery = 6 * time.Hour

var (
	shifted = regexp.MustCompile(`\{(DDHHMM|DDHH|DD|HH|MM)(?:([-+][0-9]{1,4})([hm]))?\}`)
	layouts = map[string]string{"DDHHMM": "021504", "DDHH": "0215", "DD": "02", "HH": "15", "MM": "04"}
)

// render writes a report's times.
func render(r weather.Report, now time.Time) (string, error) {
	from := now.UTC().Truncate(time.Hour)
	if r.Taf {
		from = now.UTC().Truncate(tafEvery)
	}
	text := shifted.ReplaceAllStringFunc(r.Text, func(s string) string {
		m := shifted.FindStringSubmatch(s)
		n, _ := strconv.Atoi(m[2]) // empty: no shift
		unit := time.Minute
		if m[3] == "h" {
			unit = time.Hour
		}
		return from.Add(time.Duration(n) * unit).Format(layouts[m[1]])
	})
	if i := strings.IndexAny(text, "{}"); i >= 0 {
		return "", fmt.Errorf("%q is no time such as {DDHHMM-7m} or {DDHH+24h}", text[i:min(i+12, len(text))])
	}
	return text, nil
}
