package app

import (
	"context"
	"fmt"
	"strings"
	"time"

	"firn/bot/outbox"
	"firn/bot/record"
)

// lateAfter is when what a running serve does each minute is late: five
// rounds. The figure is ours.
const lateAfter = 5 * time.Minute

func (d *Doctor) storage(ctx context.Context, a *App) {
	if a.outbox == nil {
		return // said at the start
	}
	b, err := a.outbox.Backlog(ctx)
	if err != nil {
		d.Fails("store", fmt.Errorf("%s: %w", a.parts.Where, err))
		return
	}
	d.well("store", "%s: %d posts wait, %d were given up", a.parts.Where, b.Waiting, b.GivenUp)
	if late := d.Now().Sub(b.Oldest); b.Waiting > 0 && late > lateAfter {
		d.Sick("store", "the oldest post has waited for %s: is firn serve running, and does its chat service answer?", late.Round(time.Minute))
	}
	if b.GivenUp > 0 {
		d.givenUp(ctx, a)
	}
}

// proofLimit is for going through the whole history: whoever asks waits. The figure
// is ours.
const proofLimit = 20 * time.Second

// proof looks whether the record is as it was written: what somebody changed in the
// store is shown to people as if it were.
func (d *Doctor) proof(ctx context.Context, a *App) {
	if a.parts.Store == nil {
		return // said at the start
	}
	within, cancel := context.WithTimeout(ctx, proofLimit)
	defer cancel()
	const all = "firn export --verify --format none"
	report, err := record.Verify(within, a.parts.Store)
	switch {
	case err != nil && within.Err() != nil && ctx.Err() == nil:
		d.Note("record", "its history is too long to be proved here: %s%s does", all, d.Flags)
	case err != nil:
		d.Fails("record", err)
	case len(report.Findings) > 0:
		d.Sick("record", "the history is not sound: %s; rely on no figure and no check of it, and put a copy of the store back: %s%s names everything", report.Findings[0].Text, all, d.Flags)
	default:
		d.well("record", "the history is sound: %s", report)
	}
}

// givenUpNews is how long a post that was given up is something to mend: whoever
// looks each morning sees it. The figure is ours.
const givenUpNews = 48 * time.Hour

// givenUp tells of posts that reach nobody any more.
func (d *Doctor) givenUp(ctx context.Context, a *App) {
	q, ok := a.parts.Store.(outbox.Losing)
	if !ok {
		return
	}
	latest, n, err := q.GivenUp(ctx, d.Now().Add(-givenUpNews), 3)
	if err != nil {
		d.Fails("store", err)
		return
	}
	if n == 0 {
		d.Note("store", "posts that were given up stay in the store; the latest is more than %d hours old, and the log of firn serve says why each was", givenUpNews/time.Hour)
		return
	}
	var each []string
	for _, l := range latest {
		each = append(each, fmt.Sprintf("%s to %s at %s: %s", l.Key, l.Channel, l.At.UTC().Format("Mon 2 Jan 15:04Z"), l.Reason))
	}
	if n > len(each) {
		each = append(each, fmt.Sprintf("and %d more, in the log of firn serve (post given up)", n-len(each)))
	}
	d.Sick("store", "%d posts were given up within %d hours, and reach nobody: tell those people, and mend the channel; %s", n, givenUpNews/time.Hour, strings.Join(each, "; "))
}
