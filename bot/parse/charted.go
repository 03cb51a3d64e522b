package parse

import "firn/engine/procedure"

// charted has the fixes of stored procedures be labels of the altitude beside
// them, where none stands there that says the same: "XADLO 10900 XOLMI 8200".
func (rd *reading) charted(items []item) {
	if rd.roles == nil || rd.home == "" {
		return
	}
	kind := func(k int) itemKind {
		if k < 0 || k >= len(items) {
			return breakItem
		}
		return items[k].kind
	}
	for k := range items {
		if items[k].kind != fixItem || kind(k-1) == labelItem || kind(k+1) == labelItem || kind(k-1) != numberItem && kind(k+1) != numberItem {
			continue
		}
		role, holds, ok := rd.roles(rd.home, items[k].fix)
		if own, higher := rd.behindMissed(items, k); holds && own {
			continue // "missed 10200 XORLI"
		} else if holds && higher { // "missed 7000, then XORLI 10200"
			items[k].kind, items[k].role, items[k].label = labelItem, procedure.MissedHold, MissedHoldLabel
			continue
		}
		for j := k - 1; ok && kind(j) != breakItem; j-- {
			ok = items[j].kind != labelItem || items[j].role != role || items[j].fix != ""
		}
		for j := k + 1; ok && kind(j) != breakItem; j++ {
			ok = items[j].kind != labelItem || items[j].role != role
		}
		if ok {
			items[k].kind, items[k].role = labelItem, role
		}
	}
}

// behindMissed says of the fix at k that it stands behind the missed approach's own
// altitude and at no other, or at one that is higher than that.
func (rd *reading) behindMissed(items []item, k int) (own, higher bool) {
	at := k - 1
	for at >= 0 && items[at].kind != labelItem {
		at--
	}
	if at < 0 || items[at].role != procedure.MissedHold || items[at].label == MissedHoldLabel || items[at+1].kind != numberItem {
		return false, false
	}
	beside := k - 1
	if k+1 < len(items) && items[k+1].kind == numberItem {
		beside = k + 1
	}
	first, second := items[at+1].altitude, items[beside].altitude
	if items[beside].kind != numberItem || first < 0 || second < 0 {
		return false, false
	}
	list := rd.req.Altitudes
	return beside == at+1, list[second].Feet() > list[first].Feet()
}
