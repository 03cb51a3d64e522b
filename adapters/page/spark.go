package page

import (
	"context"
	"fmt"
	"html/template"
	"strings"
	"sync"
	"time"

	"firn/bot/drawing"
	"firn/engine"
)

// sparksWithin is how long a board waits for its small curves: without them it
// is whole, they only repeat it.
const sparksWithin = time.Second

// sparks are the small curves of the bases on the board, kept until a base's
// forecast is another.
type sparks struct {
	mu     sync.Mutex
	byBase map[string]spark
}

type spark struct {
	of   string // the forecast
	html template.HTML
}

// sparksOf draws the day of each base, in the order given.
func (p *Page) sparksOf(all []base) []template.HTML {
	out := make([]template.HTML, len(all))
	if p.o.Day == nil {
		return out
	}
	ctx, cancel := context.WithTimeout(context.Background(), sparksWithin)
	defer cancel()
	p.sparks.mu.Lock()
	defer p.sparks.mu.Unlock()
	if p.sparks.byBase == nil {
		p.sparks.byBase = map[string]spark{}
	}
	for i := range all {
		c := &all[i].Cold
		of := fmt.Sprint(c.Source, c.Issued.Unix(), c.LowAt.Unix(), c.LowC, c.RestrictionC, c.BelowFrom.Unix(), c.BelowTo.Unix())
		if k, has := p.sparks.byBase[c.Ident]; has && k.of == of {
			out[i] = k.html
			continue
		}
		if ctx.Err() != nil {
			continue // the next board has it
		}
		d, ok := p.o.Day(ctx, c.Ident)
		if day, is := d.(drawing.Day); ok && is {
			out[i] = sparkOf(day)
		}
		if ctx.Err() == nil {
			p.sparks.byBase[c.Ident] = spark{of, out[i]}
		}
	}
	return out
}

// The size of a small curve, in its own units.
const sparkWide, sparkHigh = 160, 40

// sparkOf is a day's curve, its single values and the restriction temperature,
// without words: those stand beside it.
func sparkOf(d drawing.Day) template.HTML {
	low, high := d.Range()
	if low > high || !d.From.Before(d.To) {
		return ""
	}
	x := func(t time.Time) float64 {
		return min(1, max(0, float64(t.Sub(d.From))/float64(d.To.Sub(d.From)))) * sparkWide
	}
	y := func(c engine.Celsius) float64 {
		return 4 + float64(high-c)/max(1, float64(high-low))*(sparkHigh-8)
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="spark" viewBox="0 0 %d %d" aria-hidden="true">`, sparkWide, sparkHigh)
	if d.HasLine {
		fmt.Fprintf(&b, `<path class="limit-line" d="M0 %.1fH%d"/>`, y(d.Line), sparkWide)
	}
	for _, run := range d.Runs {
		b.WriteString(`<path class="curve" d="`)
		for i, s := range run.Values {
			step := "H%.1fV%.1f"
			if i == 0 {
				step = "M%.1f %.1f"
			}
			fmt.Fprintf(&b, step, x(s.At), y(s.C))
		}
		fmt.Fprintf(&b, `H%.1f"/>`, x(run.To))
	}
	for _, run := range d.Estimated {
		b.WriteString(`<path class="curve estimated" d="`)
		for i, s := range run {
			step := "L%.1f %.1f"
			if i == 0 {
				step = "M%.1f %.1f"
			}
			fmt.Fprintf(&b, step, x(s.At), y(s.C))
		}
		b.WriteString(`"/>`)
	}
	for _, e := range d.Extremes {
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="3"/>`, x(e.At), y(e.C))
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}
