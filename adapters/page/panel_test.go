package page

import (
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"
)

// TestBrowserPanel: a row of the board opens its base beside it on a desk and
// below it on a phone, stays open while the board changes, and gives the focus
// back; without a script it is a page of its own, and the clear bases unfold.
func TestBrowserPanel(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	recordOf(t, r.open(t, "Cy", ""), goodLine)
	b := r.tab(t)
	b.called("Anna")
	b.open("/board")
	b.until("it is live", b.reads("Live."))
	const row = "#b-XKLD .is"
	b.click(row)
	b.until("the panel has the focus", "document.activeElement.matches('#beside .panel')")
	for _, text := range []string{"XKLD Kaldmoor", "Forecast against the line", "Usual procedures", "rnav 31", "1 other", "Latest results", "Cy"} {
		b.until("it has "+text, "document.querySelector('.panel').innerText.includes("+quote(text)+")")
	}
	if got := b.js("document.querySelector('.panel').innerText.includes('vor a')"); got != "false" {
		t.Error("the panel has a procedure open that is not usual")
	}
	if got := b.js("location.pathname + document.querySelector(" + quote(row) + ").getAttribute('aria-expanded') + (document.querySelector('.panel').getBoundingClientRect().left >= document.querySelector('#board').getBoundingClientRect().right)"); got != "/boardtruetrue" {
		t.Errorf("address, row and place: %s", got)
	}
	changed := boardOf()
	changed[2].State = "below"
	r.page.Show(changed, time.Now())
	b.until("the board changes", "document.querySelectorAll('.b-below').length === 2")
	if got := b.js("document.activeElement.matches('#beside .panel')"); got != "true" {
		t.Error("the focus does not stay in the panel")
	}
	b.window(390, 844, true)
	b.until("on a phone it is below the row", "document.querySelector('#b-XKLD + .opened .panel')")
	r.page.Show(boardOf(), time.Now())
	b.until("it stays there", "document.querySelectorAll('.b-below').length === 1 && document.querySelector('#b-XKLD + .opened .panel')")
	b.key(kb.Escape)
	b.until("it is closed, and the row has the focus", "!document.querySelector('.panel') && document.activeElement.matches("+quote(row)+")")
	// What is clear is idents alone, and unfolds.
	b.do("document.querySelector('.figured summary').click()")
	b.until("the clear ones have figures", "document.querySelector('#b-XSLT').checkVisibility()")
	b.scripts(false)
	b.open("/board")
	b.click(row)
	b.until("it is a page of its own", "location.pathname === '/base/XKLD' && "+b.reads("Latest results"))
}
