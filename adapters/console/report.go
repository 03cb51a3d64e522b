package console

import (
	"fmt"
	"io"
	"strings"
	"time"

	"firn/bot/reply"
	"firn/engine"
	"firn/engine/wxreport"
)

// RenderReport writes what was read from a report.
func RenderReport(w io.Writer, d wxreport.Decoded) error {
	var b strings.Builder
	if d.Problem != nil {
		fmt.Fprintf(&b, "not a report: %s\n", d.Problem.Text)
		_, err := io.WriteString(w, b.String())
		return err
	}
	fmt.Fprintf(&b, "%s %s", strings.ToUpper(d.Kind), d.Ident)
	if !d.Issued.IsZero() {
		fmt.Fprintf(&b, ", issued %s", utc(d.Issued))
	}
	for _, flag := range []struct {
		set  *bool
		word string
	}{{d.Amended, "amended"}, {d.Corrected, "corrected"}, {d.Cancelled, "cancelled"}, {d.Nil, "missing (NIL)"}} {
		if flag.set != nil && *flag.set {
			b.WriteString(", " + flag.word)
		}
	}
	b.WriteByte('\n')
	field := func(name, format string, args ...any) {
		fmt.Fprintf(&b, "  %-18s%s\n", name, fmt.Sprintf(format, args...))
	}
	if d.Temperature.OK {
		field("temperature", "%s °C", reply.Degrees(d.Temperature.C))
		if d.Body.OK && d.Tenths.OK && d.Body.C != d.Tenths.C {
			field("", "the colder of %s in the body and %s in the remarks", reply.Degrees(d.Body.C), reply.Degrees(d.Tenths.C))
		}
	} else if d.Kind == "metar" {
		field("temperature", "not reported")
	}
	if d.Dewpoint.OK {
		field("dew point", "%s °C", reply.Degrees(d.Dewpoint.C))
	}
	if d.Doubt != "" {
		field("in doubt", "%s", d.Doubt)
	}
	if d.AltimeterInHg > 0 {
		field("altimeter setting", "%.2f inches", d.AltimeterInHg)
	}
	if d.AltimeterHPa > 0 {
		field("altimeter setting", "%.0f hPa", d.AltimeterHPa)
	}
	if !d.ValidFrom.IsZero() {
		field("valid", "%s to %s", utc(d.ValidFrom), utc(d.ValidTo))
	}
	for _, x := range d.Extremes {
		name := "minimum"
		if x.Type == "max" {
			name = "maximum"
		}
		field(name, "%s °C at %s", reply.Degrees(engine.Celsius(x.C)), utc(x.At))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func utc(t time.Time) string { return t.UTC().Format("2006-01-02 15:04Z") }
