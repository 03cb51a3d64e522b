package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"firn/bot/reply"
)

// TestWebWeather judges bases from the two web services, in the configured
// order: a civil TAF without temperatures leaves the hourly forecast, and a
// service that is down is told.
func TestWebWeather(t *testing.T) {
	at := time.Date(2026, 1, 15, 13, 0, 0, 0, time.UTC)
	awc := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		if strings.Contains(r.URL.Path, "taf") {
			fmt.Fprint(w, `[{"icaoId":"XKLD","rawTAF":"TAF XKLD 151130Z 1512/1612 00000KT P6SM SKC"},
				{"icaoId":"XRUN","rawTAF":"TAF XRUN 151130Z 1512/1612 00000KT 9999 SKC TXM11/1520Z TNM23/1514Z"}]`)
			return
		}
		fmt.Fprint(w, `[{"icaoId":"XKLD","rawOb":"METAR XKLD 151253Z 00000KT 10SM CLR M31/M35 A3012"}]`)
	}))
	defer awc.Close()
	down := false
	nws := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if down {
			http.Error(w, "down", http.StatusBadGateway)
			return
		}
		w.Header().Set("Content-Type", "application/geo+json")
		if strings.HasPrefix(r.URL.Path, "/points/") {
			fmt.Fprint(w, `{"properties":{"gridId":"XGR","gridX":1,"gridY":2}}`)
			return
		}
		var periods []string
		for h := range 24 {
			from := at.Add(time.Duration(h) * time.Hour)
			temperature := -20
			if h >= 2 && h < 5 {
				temperature = -28
			}
			periods = append(periods, fmt.Sprintf(`{"startTime":%q,"endTime":%q,"temperature":%d,"temperatureUnit":"C"}`,
				from.Format(time.RFC3339), from.Add(time.Hour).Format(time.RFC3339), temperature))
		}
		fmt.Fprintf(w, `{"properties":{"updateTime":%q,"generatedAt":%q,"periods":[%s]}}`, at.Format(time.RFC3339), at.Format(time.RFC3339), strings.Join(periods, ","))
	}))
	defer nws.Close()
	path := filepath.Join(t.TempDir(), "config.yaml")
	cfg := fmt.Sprintf(`weather: [{kind: awc, url: %q}, {kind: nws, url: %q}]
stations:
  - {ident: XKLD, elevation_ft: 4802, restriction_c: -25, time_zone: America/Edmonton, lat: 45.5, lon: -110.5, watch: {at: "06:00"}}
  - {ident: XRUN, elevation_ft: 4380, restriction_c: -20, time_zone: America/Edmonton, watch: {at: "06:00"}}
`, awc.URL, nws.URL)
	if err := os.WriteFile(path, []byte(cfg), 0o600); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	h := host{stdout: &out, stderr: &errs, getenv: func(string) string { return "" }, now: func() time.Time { return at }}
	judged := func() map[string]reply.Cold {
		out.Reset()
		if code := run(t.Context(), []string{"watch", "run", "--once", "--json", "--config", path}, h); code != exitAnswered {
			t.Fatalf("exit %d: %s", code, &errs)
		}
		all := map[string]reply.Cold{}
		for line := range strings.Lines(out.String()) {
			var c reply.Cold
			if err := json.Unmarshal([]byte(line), &c); err != nil {
				t.Fatal(err)
			}
			all[c.Ident] = c
		}
		return all
	}
	all := judged()
	if c := all["XKLD"]; c.State != "below" || c.LowC.Value != -28 || !c.BelowFrom.Equal(at.Add(2*time.Hour)) || c.Estimated || !strings.Contains(c.Source, "nws") {
		t.Errorf("XKLD is %+v; want below by the hourly forecast, -28 from %s", c, at.Add(2*time.Hour))
	}
	if c := all["XRUN"]; c.State != "below" || c.LowC.Value != -23 || !c.BelowFrom.Equal(at) || !c.BelowTo.Equal(at.Add(3*time.Hour)) || !c.Estimated || c.Source != "TAF (awc)" {
		t.Errorf("XRUN is %+v; want below by its TAF, its hours estimated", c)
	}
	down = true
	if c := judged()["XKLD"]; c.State != "no-forecast" || c.Source != "TAF (awc)" || !strings.HasPrefix(c.Note, "it forecasts no temperature; the forecast source failed: ") || !strings.Contains(c.Note, "status 502") {
		t.Errorf("XKLD is %+v; want no-forecast: nws is down, and the TAF has no temperature", c)
	}
	out.Reset()
	if code := run(t.Context(), []string{"ask", "--config", path, "XKLD", "8200"}, h); code != exitAnswered || !strings.Contains(out.String(), "−31 °C: latest observation, METAR (awc)") {
		t.Errorf("exit %d:\n%s", code, &out)
	}
}
