package page

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	cdp "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"golang.org/x/image/draw"

	"firn/bot/reply"
	"firn/bot/watch"
	"firn/engine"
)

var sheets = flag.String("sheets", "", "the one page of the contact sheet; empty: all")

// picture is what a tab shows.
func (b *tab) picture() image.Image {
	b.Helper()
	shot, err := chromedp.Call(b.ctx, cdp.CaptureScreenshot, cdp.CaptureScreenshotParams{})
	if err != nil {
		b.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(shot.Data))
	if err != nil {
		b.Fatal(err)
	}
	return img
}

// media shows pages as on paper, or as on a screen.
func (b *tab) media(name string) {
	b.Helper()
	if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: name}); err != nil {
		b.Fatal(err)
	}
}

func (b *tab) scripts(on bool) {
	b.Helper()
	if _, err := chromedp.Call(b.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !on}); err != nil {
		b.Fatal(err)
	}
}

// halved is a picture at half its size.
func halved(i image.Image) image.Image {
	out := image.NewRGBA(image.Rect(0, 0, i.Bounds().Dx()/2, i.Bounds().Dy()/2))
	draw.ApproxBiLinear.Scale(out, out.Bounds(), i, i.Bounds(), draw.Src, nil)
	return out
}

// sheet puts rows of pictures below one another.
func sheet(rows [][]image.Image) image.Image {
	const gap = 8
	wide, high := 0, gap
	for _, row := range rows {
		w, h := gap, 0
		for _, i := range row {
			w, h = w+i.Bounds().Dx()+gap, max(h, i.Bounds().Dy())
		}
		wide, high = max(wide, w), high+h+gap
	}
	out := image.NewRGBA(image.Rect(0, 0, wide, high))
	draw.Draw(out, out.Bounds(), image.NewUniform(color.RGBA{0x77, 0x88, 0x99, 0xff}), image.Point{}, draw.Src)
	y := gap
	for _, row := range rows {
		x, h := gap, 0
		for _, i := range row {
			draw.Draw(out, i.Bounds().Add(image.Pt(x, y)), i, image.Point{}, draw.Src)
			x, h = x+i.Bounds().Dx()+gap, max(h, i.Bounds().Dy())
		}
		y += h + gap
	}
	return out
}

// TestContactSheet writes every page at every width, light, dark and dim red,
// with a script and without, side by side, and on paper, a file a page:
//
//	go test ./adapters/page -run ContactSheet -artifacts -outputdir DIR
//
// Without -artifacts it draws the first page alone: pictures are most of the time,
// and TestBrowserEveryPage holds all of them to the width of their screen.
func TestContactSheet(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.tab(t)
	dir := t.ArtifactDir()
	kept := flag.Lookup("test.artifacts").Value.String() == "true"
	pages := []string{"/"}
	if kept {
		pages = append(everyPage(t, r, b), "/log?q=bo")
	}
	b.ask("XKLD rnav 31 -38")
	b.until("the answer is there", b.reads("XIRTU"))
	if kept { // the last ones are of a network
		pages = append(pages, "/board?network", "/board?wall")
	}
	for _, p := range pages {
		if p == "/board?network" {
			r.page.Show(network(60), time.Now())
		}
		b.contact(dir, p, kept, func() { b.open(p) })
	}
	b.look("light")
	if !kept {
		return
	}
	in := newRoom(t, roomOptions{limits: generous, signIn: true})
	c := in.tab(t)
	c.open("/enter")
	for _, s := range in.accessScreens(t, c) {
		c.contact(dir, s.name, kept, s.open)
	}
}

// contact draws a page and writes its sheet; open brings the page up.
func (b *tab) contact(dir, p string, kept bool, open func()) {
	b.Helper()
	if *sheets != "" && p != *sheets {
		return
	}
	var all [][]image.Image
	for _, script := range []bool{true, false} {
		b.scripts(script)
		for _, look := range []string{"light", "dark", lookRed} {
			if look != "light" && !(kept && script) {
				continue // the same style; the same sizes
			}
			var row []image.Image
			for _, width := range []int64{320, 390, 1280, 1920} {
				if p == "/board?wall" && width < 1000 {
					continue // no wall is so small
				}
				b.window(width, map[bool]int64{true: 844, false: 900}[width < 1000], width < 1000)
				b.scheme(map[bool]string{true: "dark", false: "light"}[look != "light"])
				b.look(look)
				open()
				b.until(p+" is there", "document.readyState === 'complete' && document.querySelector('main') && innerWidth >= "+fmt.Sprint(width))
				row = append(row, halved(b.picture()))
			}
			all = append(all, row)
		}
	}
	b.scripts(true)
	if kept && p != "/board?wall" { // as on paper of A4: its width without the margins, at 96 to the inch
		b.window(726, 1055, false)
		b.look("light")
		open()
		b.media("print")
		all = append(all, []image.Image{b.picture()})
		b.media("")
	}
	var out bytes.Buffer
	if err := png.Encode(&out, sheet(all)); err != nil {
		b.Fatal(err)
	}
	name := strings.Trim(strings.NewReplacer("/", "-", "?", "-", "=", "-", "&", "-", " ", "-").Replace(p), "-")
	if err := os.WriteFile(filepath.Join(dir, "sheet-"+name+".png"), out.Bytes(), 0o644); err != nil {
		b.Fatal(err)
	}
}

// enters checks a record with somebody's own figures.
func (r *crewRoom) enters(t testing.TB, name, id string, figures ...string) {
	t.Helper()
	r.checks(t, r.open(t, "", ""), name, id, figures...)
}

// checks is the same in a browser that goes on.
func (r *crewRoom) checks(t testing.TB, b *browser, name, id string, figures ...string) {
	t.Helper()
	v := parse(t, b.get(t, "/record/"+id+"/check").body).form(t, "/record/"+id+"/check").fill()
	v.Set("name", name)
	v["entered"] = figures
	if g := b.post(t, "/record/"+id+"/check", v); g.url.Path != "/record/"+id {
		t.Fatalf("%s does not check %s: at %s", name, id, g.url)
	}
}

// network are bases as a cold morning has them: of each ten four at or below
// their line, one without a forecast and one near its line.
func network(n int) (all []reply.Cold) {
	at := time.Now().Truncate(time.Hour)
	for i := range n {
		c := reply.Cold{Ident: fmt.Sprintf("X%c%c%c", 'A'+i%26, 'A'+i/26%26, 'A'+i/676%26), State: "clear", LowC: reply.Some(-12), LowAt: at.Add(3 * time.Hour), RestrictionC: reply.Some(-20), Source: "TAF (folder)", Issued: at}
		switch i % 10 {
		case 0, 2, 5, 7:
			c.State, c.LowC = "below", reply.Some(-21-float64(i%17))
			c.BelowFrom, c.BelowTo = at.Add(time.Hour), at.Add(9*time.Hour)
		case 3:
			c = reply.Cold{Ident: c.Ident, State: "no-forecast", RestrictionC: reply.Some(-20), Note: "no source has a forecast"}
		case 8:
			c.State, c.LowC = "near", reply.Some(-18.5)
		}
		all = append(all, c)
	}
	return all
}

// morning shows a board on which everything stands that can: of n bases those
// that are cold with estimated hours, some with a low beside the window, all
// observed, and each third one seen by somebody.
func (r *crewRoom) morning(n int) {
	all, at := network(n), time.Now()
	nows, by := map[string]Observed{}, map[string]watch.Seen{}
	for i := range all {
		c := &all[i]
		if c.Estimated = true; i%2 == 0 && c.State == "below" {
			c.LowAt = c.BelowTo.Add(time.Hour)
		}
		nows[c.Ident] = Observed{C: engine.Celsius(-14 - i%9), At: at.Add(-65 * time.Minute), Source: "METAR (folder)"}
		by[c.Ident] = watch.Seen{Open: true}
		if i%3 == 2 {
			by[c.Ident] = watch.Seen{Open: true, By: "Kari Nordmann-Lund", At: at}
		}
	}
	r.watch.mu.Lock()
	r.watch.nows, r.watch.by = nows, by
	r.watch.mu.Unlock()
	r.page.Show(all, at)
}

// look has the pages dim and red, or not.
func (b *tab) look(name string) {
	b.Helper()
	if name != lookRed {
		name = ""
	}
	cookie := lookCookie + "=" + name + "; path=/; max-age=" + map[bool]string{true: "1000", false: "0"}[name != ""]
	u := "document.cookie = " + quote(cookie)
	b.do(u)
}
