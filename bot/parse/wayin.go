package parse

import (
	"strings"

	"firn/engine/procedure"
)

// way reads how the crew comes in.
func (rd *reading) way(i int) int {
	p := rd.tags[i]
	next := i + p.n
	word := ""
	if next < len(rd.tokens) && rd.tokens[next].kind == wordToken {
		word = rd.tokens[next].word
	}
	switch p.meaning {
	case wayWord:
		if p.label == "traffic" {
			rd.req.Way.Kind = Traffic
		} else if rd.req.Way.Kind == Unsaid {
			rd.req.Way = Way{Kind: Vectors}
		}
	case insideWord:
		if !fixLike(word) || rd.req.Way.Kind != Vectors {
			return next
		}
		rd.req.Way = Way{Kind: VectorsInside, Fix: strings.ToUpper(word)}
		next++
	case fromWord:
		n := len(rd.items) - 1
		if n > 0 && rd.items[n].kind == fixItem {
			n--
		}
		if !fixLike(word) || n < 0 || rd.tags[next].n > 0 || rd.items[n].kind != labelItem && rd.items[n].kind != numberItem {
			return next
		}
		rd.items[n].from = strings.ToUpper(word)
		return next + 1
	default:
		switch {
		case word == "hold" || word == "holding":
			rd.req.Way = Way{Kind: InHold}
			next += rd.tags[next].n
		case rd.means(next) == roleWord && rd.tags[next].role == procedure.ProcedureTurn:
			rd.req.Way = Way{Kind: InTurn}
			next += rd.tags[next].n
		case rd.means(next) == wayWord:
			return next
		case fixLike(word) && (rd.tags[next].n == 0 || len(word) == 5 && rd.means(next) <= thanks || rd.storedFix(word)):
			if rd.req.Way.Kind != Traffic {
				rd.req.Way.Kind = Via
			}
			rd.req.Way.Fix = strings.ToUpper(word)
			next++
		default:
			return next
		}
	}
	rd.apart(i)
	return next
}
