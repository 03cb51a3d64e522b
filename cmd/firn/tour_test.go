package main

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"firn/adapters/testkit/installed"
	"firn/bot/app"
)

// The tour is one whole cold day at a base of the demo region, from the
// morning alert to the export, with all commands as people type them.
// TestTour lives that day and holds its page to what comes of it:
//
//	go test ./cmd/firn -run Tour -update
//
// writes the page and its pictures anew.

const (
	tourBegin  = "<!-- tour: begin; written by go test ./cmd/firn -run Tour -update -->\n"
	tourEnd    = "<!-- tour: end -->\n"
	tourReadme = "../../testdata/tour/README.md"
	tourFolder = "../../testdata/tour"
	tourZone   = -7 * time.Hour // XKLD's in winter
	tourDay    = "2026-02-05"
)

// tour is the day.
type tour struct {
	*testing.T
	dir    string
	config string
	clock  atomic.Int64 // what firn takes for the time, in nanoseconds
	screen *heard       // of serve
	log    *heard
	read   int // of the screen
	text   strings.Builder
}

func (w *tour) now() time.Time { return time.Unix(0, w.clock.Load()).UTC() }

// at sets the clock to a local time of the day.
func (w *tour) at(hhmm string) {
	w.Helper()
	t, err := time.Parse("2006-01-02 15:04", tourDay+" "+hhmm)
	if err != nil {
		w.Fatal(err)
	}
	w.clock.Store(t.Add(-tourZone).UnixNano())
}

// weather drops the reports of a moment: XKLD's observation and its forecast
// low for the night.
func (w *tour) weather(name, text string) {
	w.Helper()
	whole := filepath.Join(w.dir, name) // half a file must not be read
	if err := os.WriteFile(whole, []byte(text), 0o600); err != nil {
		w.Fatal(err)
	}
	if err := os.Rename(whole, filepath.Join(w.dir, "weather", name)); err != nil {
		w.Fatal(err)
	}
}

// host is the world of one command.
func (w *tour) host(stdin string, out, log *heard) host {
	return host{stdin: strings.NewReader(stdin), stdout: out, stderr: log, getenv: func(string) string { return "" }, now: w.now, pace: app.Pace{Tick: 50 * time.Millisecond}}
}

// firn runs a command to its end and gives what it printed.
func (w *tour) firn(want int, stdin string, args ...string) string {
	w.Helper()
	out, log := &heard{}, &heard{}
	if code := run(w.Context(), append(args[:1:1], append([]string{"--config", w.config}, args[1:]...)...), w.host(stdin, out, log)); code != want {
		w.Fatalf("firn %q = %d: %s%s", args, code, out.text(), log.text())
	}
	return out.text()
}

// chat types lines into firn chat and gives what it answers.
func (w *tour) chat(lines ...string) string {
	w.Helper()
	return w.firn(exitAnswered, strings.Join(lines, "\n")+"\n", "chat")
}

// posted waits for a text on the screen of serve and gives what came there
// since the last time.
func (w *tour) posted(text string) string {
	w.Helper()
	for end := time.Now().Add(60 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		if got := w.screen.text()[w.read:]; strings.Contains(got, text) && strings.HasSuffix(got, "\n") {
			w.read += len(got)
			return got
		}
		if time.Now().After(end) {
			w.Fatalf("%q is not posted; the screen shows\n%s\nand the log\n%s", text, w.screen.text(), w.log.text())
		}
	}
}

// tell writes a step: when, what happens, and as it was typed and answered.
func (w *tour) tell(when, what string, output string) {
	fmt.Fprintf(&w.text, "**%s** %s\n\n", when, what)
	if output == "" {
		return
	}
	for line := range strings.Lines(strings.TrimRight(output, "\n") + "\n") {
		if line = strings.TrimRight(line, " \n"); line != "" {
			line = "    " + line
		}
		w.text.WriteString(line + "\n")
	}
	w.text.WriteString("\n")
}

// picture shows one that lies in testdata/tour.
func (w *tour) picture(name, alt string) {
	fmt.Fprintf(&w.text, "![%s](%s)\n\n", alt, name)
}

func newTour(t *testing.T) *tour {
	w := &tour{T: t, dir: t.TempDir(), screen: &heard{}, log: &heard{}}
	w.config = filepath.Join(w.dir, "config.yaml")
	text, err := os.ReadFile("../../config.example.yaml")
	if err != nil {
		t.Fatal(err)
	}
	demo, err := filepath.Abs("../../testdata/demo-procedures")
	if err != nil {
		t.Fatal(err)
	}
	cfg := string(text)
	for _, change := range [][2]string{
		{"path: testdata/demo-weather", "path: weather"},
		{"path: testdata/demo-procedures", "path: " + demo},
		{"listen: 127.0.0.1:7470", "listen: 127.0.0.1:0\n  behind_proxy: true"}, // so that people have names
		{"# store:\n#   path: /srv/firn/firn.db", "store:\n  path: " + filepath.Join(w.dir, "firn.db")},
	} {
		if strings.Count(cfg, change[0]) != 1 {
			t.Fatalf("the example has %q %d times", change[0], strings.Count(cfg, change[0]))
		}
		cfg = strings.Replace(cfg, change[0], change[1], 1)
	}
	if err := os.WriteFile(w.config, []byte(cfg), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(w.dir, "weather"), 0o700); err != nil {
		t.Fatal(err)
	}
	// The other bases, the same all day.
	w.weather("others.txt", `METAR XRUN 051235Z 32004KT 9999 SCT050 M16/M20 Q1033
METAR XHGH 051235Z 29012KT 9999 FEW030 M16/M22 Q1031
METAR XGLN 051235Z 00000KT 4000 BR FEW002 M16/M17 Q1035
METAR XSLT 051230Z 24018KT 9999 BKN025 01/M01 Q1002
METAR XFRN 051230Z VRB02KT CAVOK M20/M24 Q1029
METAR XPBR 051230Z 26025G38KT 9999 SCT030 M02/M07 Q0988
METAR XTAR 051230Z 00000KT CAVOK M05/M08 Q1030
TAF XRUN 051130Z 0512/0618 32005KT 9999 SCT050 TXM11/0520Z TNM18/0612Z
TAF XHGH 051130Z 0512/0618 29010KT 9999 FEW030 TXM12/0520Z TNM21/0612Z
TAF XGLN 051130Z 0512/0618 00000KT 3000 BR FEW002 TXM08/0520Z TNM11/0612Z
TAF XSLT 051130Z 0512/0618 24015G25KT 9999 BKN025 TX02/0514Z TNM02/0605Z
TAF XFRN 051130Z 0512/0618 VRB02KT CAVOK TXM14/0513Z TNM24/0606Z
TAF XPBR 051130Z 0512/0618 26020G35KT 9999 SCT030 TX01/0519Z TNM04/0609Z
TAF XTAR 051130Z 0512/0618 VRB03KT CAVOK TX02/0602Z TNM06/0517Z
`)
	return w
}

// TestTour lives the day.
func TestTour(t *testing.T) {
	installed.Chromium().Need(t) // at its end; without it half of the tour would be held
	w := newTour(t)
	w.weather("xkld.txt", "METAR XKLD 051247Z 00000KT 9999 FEW040 M24/M28 Q1034\nTAF XKLD 051130Z 0512/0618 00000KT 9999 FEW040 TXM17/0520Z TNM27/0514Z TNM26/0611Z\n")
	w.at("06:00")
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan int, 1)
	go func() { ended <- run(ctx, []string{"serve", "--config", w.config}, w.host("", w.screen, w.log)) }()
	defer func() {
		cancel()
		if code := <-ended; code != exitAnswered {
			t.Errorf("serve = %d:\n%s", code, w.log.text())
		}
	}()
	base := w.ready()

	w.tell("06:00, the morning alert.", "`firn serve` has looked at the forecasts of every base and posts, here on its own screen:", w.posted("XKLD"))

	w.at("06:10")
	w.tell("06:10, the duty officer", "has read it. (`firn chat`; the other channels have a button.)", say("ack XKLD", w.chat("ack XKLD")))
	w.posted("acknowledged")

	w.at("06:20")
	brief := "brief XKLD 0930 local XRUN 1045 local"
	w.tell("06:20, a crew", "prepares its two arrivals.", say(brief, w.chat(brief)))

	w.weather("xkld.txt", "METAR XKLD 051535Z 00000KT 9999 FEW040 M26/M29 Q1034\nTAF XKLD 051130Z 0512/0618 00000KT 9999 FEW040 TXM17/0520Z TNM27/0514Z TNM26/0611Z\n")
	w.at("08:40")
	w.tell("08:40, in a hurry", "the sign is forgotten. firn asks; what was understood is not lost.", say("XKLD 26 8200 7400", w.chat("XKLD 26 8200 7400")))

	w.at("08:42")
	question := "XKLD rnav 31"
	answer := w.chat(question)
	name := regexp.MustCompile(`[A-Z]{6}-[A-Z]{4}`).FindString(answer)
	if name == "" {
		t.Fatalf("no record in:\n%s", answer)
	}
	w.tell("08:42, the question,", "with the latest observation:", say(question, answer))
	w.firn(exitAnswered, "", "picture", "-o", filepath.Join(w.dir, "profile.png"), "XKLD", "rnav", "31", "-26")
	w.keep("profile.png")
	w.tell("", "`firn picture -o profile.png XKLD rnav 31 -26` draws it; on Slack, Discord and the page the picture is beside the answer.", "")
	w.picture("profile.png", "The approach in profile: published and corrected altitudes against the distance, and below them the path that is really flown when nothing is corrected")

	w.at("08:55")
	brun := newVisit(t, base)
	brun.enter(w.link("brun"))
	w.firnless("check on the page", brun.post("/record/"+name+"/check", url.Values{"csrf": {brun.mark()}, "deed": {"1"}, "how": {"confirm"}}))
	w.tell("08:55, a second person", "has worked it out from the table as well, and presses “Check” on the crew-room page. Who asked and who checked stands on the record everywhere:", say("log XKLD today", w.chat("log XKLD today")))

	phone := newWindow(t)
	phone.onPhone()
	phone.enter(base + w.link("anna"))
	phone.reads("anna")
	phone.open(base + "/board")
	phone.reads("XGLN")
	w.shot(phone, "board.png", "main")
	w.tell("09:00, who is cold today?", "The page's board, on a phone:", "")
	w.picture("board.png", "The cold board on a phone: every base with its state in words and shape, the forecast low and its time, the restriction temperature, the source and its age")

	w.weather("xkld.txt", "METAR XKLD 051727Z 00000KT 9999 SKC M28/M31 Q1036\nTAF AMD XKLD 051715Z 0517/0618 00000KT 9999 SKC TXM24/0521Z TNM34/0612Z\n")
	w.at("10:30")
	w.tell("10:30, it grows colder than forecast.", "The alert is amended:", w.posted("XKLD"))
	w.until("the record is marked", func() bool { return strings.Contains(w.chat("log XKLD today"), "Out of date") })
	w.tell("", "and so are the results that people rely on:", say("log XKLD today", w.chat("log XKLD today")))

	w.at("10:40")
	again := w.chat("recompute " + name)
	next := ""
	for _, n := range regexp.MustCompile(`[A-Z]{6}-[A-Z]{4}`).FindAllString(again, -1) {
		if n != name {
			next = n
			break
		}
	}
	if next == "" {
		t.Fatalf("no new record in:\n%s", again)
	}
	brun.post("/record/"+next+"/check", url.Values{"csrf": {brun.mark()}, "deed": {"2"}, "how": {"confirm"}})
	w.firn(exitAnswered, "", "card", "-o", filepath.Join(w.dir, "card.png"), next)
	w.keep("card.png")
	w.tell("10:40, `recompute "+name+"`", "answers with the next version, "+next+". It is checked anew, and printed for the kneeboard: `firn card -o card.pdf "+next+"`, or “card” on every surface.", "")
	w.picture("card.png", "The card to print: the procedure, the temperature, published and corrected altitudes in flying order in big digits, the words to say, the cautions, who computed and who checked, and until when it holds")

	w.weather("xkld.txt", "METAR XKLD 052247Z 21012KT 9999 BKN050 M12/M16 Q1019\nTAF AMD XKLD 052240Z 0522/0618 21015KT 9999 BKN050 TXM10/0523Z TNM14/0612Z\n")
	w.at("16:00")
	w.tell("16:00, a warm front", "comes early, and the day is over:", w.posted("XKLD"))

	w.at("17:00")
	table := w.firn(exitAnswered, "", "export", "--from", "2026-02-05", "--to", "2026-02-06", "--format", "csv")
	if n := strings.Count(table, "\n"); n < 3 {
		t.Errorf("the export has %d lines:\n%s", n, table)
	}
	// Three results made, their checks and what ended them; the last round tells
	// that their time is over.
	w.until("what is over is written down", func() bool { return strings.Contains(w.verdict(), " 10 entries,") })
	w.tell("17:00, what was computed, from what, and who checked it,", fmt.Sprintf("goes into a file (`firn export --from 2026-02-05 --to 2026-02-06 --format csv`, %d lines), and the history is proved:", strings.Count(table, "\n")), "$ firn export --verify > history.csv\n"+w.verdict())

	// Last, because a browser's own key is in the name of its record, which is
	// in the history.
	w.at("17:10")
	phone.open(base + "/")
	phone.reads("anna")
	phone.say("XRUN loc 12 -21")
	phone.reads("Say on check-in")
	w.shot(phone, "answer.png", "article")
	w.tell("17:10, the late crew", "asks on the page, from a phone: `XRUN loc 12 -21`.", "")
	w.picture("answer.png", "The crew-room page on a phone: the answer, its state, and the table with the corrected altitudes large")

	w.compare()
}

// say is a line as it was typed, with the answer.
func say(line, answer string) string { return "firn> " + line + "\n\n" + answer }

// ready waits until serve is up and gives the page's address.
func (w *tour) ready() string {
	w.Helper()
	for end := time.Now().Add(60 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		if m := readyPage.FindStringSubmatch(w.log.text()); m != nil {
			return m[1] + "://127.0.0.1:" + m[2]
		}
		if time.Now().After(end) {
			w.Fatalf("it is not ready:\n%s", w.log.text())
		}
	}
}

func (w *tour) until(what string, ok func() bool) {
	w.Helper()
	for end := time.Now().Add(60 * time.Second); !ok(); time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			w.Fatalf("%s: not within a minute; the log says\n%s", what, w.log.text())
		}
	}
}

// verdict is what export --verify says beside the records.
func (w *tour) verdict() string {
	w.Helper()
	out, log := &heard{}, &heard{}
	if code := run(w.Context(), []string{"export", "--config", w.config, "--verify"}, w.host("", out, log)); code != exitAnswered {
		w.Fatalf("export --verify = %d: %s", code, log.text())
	}
	// Where the store is differs from day to day.
	_, verdict, _ := strings.Cut(log.text(), "firn.db\n")
	return verdict
}

// firnless is a page that must show no error.
func (w *tour) firnless(what, page string) {
	w.Helper()
	if !strings.Contains(page, "Checked by") {
		w.Fatalf("%s:\n%s", what, page)
	}
}

// link is one by which somebody comes in.
func (w *tour) link(name string) string {
	w.Helper()
	out, log := &heard{}, &heard{}
	if code := run(w.Context(), []string{"access", "add", name, "--scope", "ask", "--url", "http://page", "--config", w.config}, w.host("", out, log)); code != exitAnswered {
		w.Fatalf("access add = %d: %s", code, log.text())
	}
	return strings.TrimPrefix(strings.TrimSpace(out.text()), "http://page")
}

// onPhone makes a window as wide as a phone's, in daylight.
func (w *window) onPhone() {
	w.Helper()
	_, err := chromedp.Call(w.ctx, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: 390, Height: 844, DeviceScaleFactor: 2, Mobile: true})
	if err == nil {
		light := emulation.MediaFeature{Name: "prefers-color-scheme", Value: "light"}
		_, err = chromedp.Call(w.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{&light}})
	}
	if err != nil {
		w.Fatal(err)
	}
}

// run runs a script on the page.
func (w *window) run(script string) {
	w.Helper()
	if _, err := chromedp.Run(w.ctx, chromedp.Evaluate[chromedp.Void](script)); err != nil {
		w.Fatalf("%s: %v", script, err)
	}
}

// say types a message on the page and sends it.
func (w *window) say(text string) {
	w.Helper()
	w.run("document.getElementById('text').focus()")
	if err := chromedp.Do(w.ctx, chromedp.KeyEvent(text+"\r")); err != nil {
		w.Fatal(err)
	}
}

// sameName writes one name for that of the record, which a browser's own key
// makes another each time: it is longer or shorter, so that lines break elsewhere.
const sameName = `{
	const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	while (texts.nextNode()) texts.currentNode.data = texts.currentNode.data.replace(/\b[A-Z]{4,6}-[A-Z]{4,6}\b/, 'KALOMI-RUTA');
}`

// shot takes a picture of what a phone shows, from an element on; anew while
// the page is still coming.
func (w *tour) shot(from *window, name, selector string) {
	w.Helper()
	for end := time.Now().Add(10 * time.Second); ; {
		from.run(sameName)
		from.run(fmt.Sprintf("document.activeElement.blur(); document.body.style.paddingBottom = '100vh'; document.querySelector(%q).scrollIntoView({behavior: 'instant'})", selector))
		time.Sleep(500 * time.Millisecond) // until it is drawn
		data, err := chromedp.Run(from.ctx, chromedp.CaptureScreenshot())
		if err != nil {
			w.Fatalf("%s: %v", name, err)
		}
		if err := os.WriteFile(filepath.Join(w.dir, name), data, 0o600); err != nil {
			w.Fatal(err)
		}
		if *update {
			break
		}
		if d := apart(w.image(filepath.Join(w.dir, name)), w.image(filepath.Join(tourFolder, name))); d <= tourApart || time.Now().After(end) {
			break
		}
	}
	w.keep(name)
}

// keep writes a picture of the day with -update, and compares it otherwise.
func (w *tour) keep(name string) {
	w.Helper()
	got := w.image(filepath.Join(w.dir, name))
	golden := filepath.Join(tourFolder, name)
	if *update {
		if err := os.MkdirAll(tourFolder, 0o755); err != nil {
			w.Fatal(err)
		}
		var b bytes.Buffer
		if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, small(got)); err != nil {
			w.Fatal(err)
		}
		if err := os.WriteFile(golden, b.Bytes(), 0o644); err != nil {
			w.Fatal(err)
		}
		return
	}
	if d := apart(got, w.image(golden)); d > tourApart {
		w.Errorf("%s is %.1f %% apart from what the page shows; look at both, and run with -update", name, 100*d)
	}
}

func (w *tour) image(file string) image.Image {
	w.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		w.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		w.Fatalf("%s: %v", file, err)
	}
	return img
}

// tourApart is how far two pictures may be apart: letters are drawn a little
// differently by another release of the browser, and names of records differ.
const tourApart = 0.06

// apart is the mean difference of two pictures, 0 to 1; 1 for another size.
func apart(a, b image.Image) float64 {
	if a.Bounds().Size() != b.Bounds().Size() {
		return 1
	}
	var sum, n float64
	for y := range a.Bounds().Dy() {
		for x := range a.Bounds().Dx() {
			p := color.GrayModel.Convert(a.At(a.Bounds().Min.X+x, a.Bounds().Min.Y+y)).(color.Gray).Y
			q := color.GrayModel.Convert(b.At(b.Bounds().Min.X+x, b.Bounds().Min.Y+y)).(color.Gray).Y
			sum, n = sum+math.Abs(float64(p)-float64(q))/255, n+1
		}
	}
	return sum / n
}

// small is a picture in the 128 colours that it has most of: letters and lines
// need no more, and the file is a third.
func small(img image.Image) image.Image {
	count := map[color.RGBA]int{}
	for y := img.Bounds().Min.Y; y < img.Bounds().Max.Y; y++ {
		for x := img.Bounds().Min.X; x < img.Bounds().Max.X; x++ {
			count[color.RGBAModel.Convert(img.At(x, y)).(color.RGBA)]++
		}
	}
	var palette color.Palette
	for c := range count {
		palette = append(palette, c)
	}
	slices.SortFunc(palette, func(a, b color.Color) int {
		p, q := a.(color.RGBA), b.(color.RGBA)
		if d := count[q] - count[p]; d != 0 {
			return d
		}
		return bytes.Compare([]byte{p.R, p.G, p.B, p.A}, []byte{q.R, q.G, q.B, q.A})
	})
	out := image.NewPaletted(img.Bounds(), palette[:min(len(palette), 128)])
	draw.Draw(out, out.Bounds(), img, img.Bounds().Min, draw.Src)
	return out
}

// tourSum is what the history's proof says of the day: how many times the
// record looked at the weather, and with it the sum, is not the same each time.
var tourSum = regexp.MustCompile(`\d+ entries, .* head \d+ [0-9a-f]{64}`)

// compare holds the page to the day.
func (w *tour) compare() {
	w.Helper()
	readme, err := os.ReadFile(tourReadme)
	if err != nil {
		w.Fatal(err)
	}
	before, rest, ok := strings.Cut(string(readme), tourBegin)
	was, after, ended := strings.Cut(rest, tourEnd)
	if !ok || !ended {
		w.Fatalf("%s has no place for the tour: %q and %q", tourReadme, tourBegin, tourEnd)
	}
	is := "\n" + strings.ReplaceAll(w.text.String(), "**** ", "")
	if *update {
		if err := os.WriteFile(tourReadme, []byte(before+tourBegin+is+tourEnd+after), 0o644); err != nil {
			w.Fatal(err)
		}
		return
	}
	if sum := []byte(""); !bytes.Equal(tourSum.ReplaceAll([]byte(was), sum), tourSum.ReplaceAll([]byte(is), sum)) {
		w.Errorf("the page tells another day; read the difference, and run with -update. It should tell\n%s", is)
	}
}
