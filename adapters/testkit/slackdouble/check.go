package slackdouble

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// checker looks at blocks as Slack does (docs.slack.dev, Block Kit reference)
// and says what it would refuse.
type checker struct {
	bad     []string
	surface string // message, modal, home
	ids     map[string]bool
	tables  int
}

func (k *checker) no(format string, args ...any) { k.bad = append(k.bad, fmt.Sprintf(format, args...)) }

// checkBlocks gives what is wrong with blocks on a surface.
func checkBlocks(raw json.RawMessage, surface string) []string {
	k := &checker{surface: surface, ids: map[string]bool{}}
	var list []map[string]any
	if err := json.Unmarshal(raw, &list); err != nil {
		return []string{"blocks are not a list of objects"}
	}
	most := 50
	if surface != "message" {
		most = 100
	}
	if len(list) > most {
		k.no("%d blocks, at most %d", len(list), most)
	}
	for i, b := range list {
		k.block(fmt.Sprintf("block %d", i), b)
	}
	if k.tables > 1 {
		k.no("%d tables, only one is allowed", k.tables)
	}
	return k.bad
}

// length checks a text's characters.
func (k *checker) length(at, s string, least, most int) {
	if n := utf8.RuneCountInString(s); n < least || n > most {
		k.no("%s has %d characters, %d to %d are allowed", at, n, least, most)
	}
}

func (k *checker) block(at string, b map[string]any) {
	kind := text(b, "type")
	at += " (" + kind + ")"
	if id, ok := b["block_id"]; ok {
		name, _ := id.(string)
		k.length(at+" block_id", name, 1, 255)
		if k.ids[name] {
			k.no("%s: block_id %q is there twice", at, name)
		}
		k.ids[name] = true
	}
	switch kind {
	case "section":
		k.section(at, b)
	case "header":
		k.text(at, b["text"], 150, "plain_text")
	case "divider":
	case "context":
		list := objects(b["elements"])
		if len(list) == 0 || len(list) > 10 {
			k.no("%s has %d elements, 1 to 10 are allowed", at, len(list))
		}
		for _, e := range list {
			if text(e, "type") == "image" {
				k.length(at+" alt_text", text(e, "alt_text"), 1, 2000)
				continue
			}
			k.text(at, e, 3000, "plain_text", "mrkdwn")
		}
	case "actions":
		list := objects(b["elements"])
		if len(list) == 0 || len(list) > 25 {
			k.no("%s has %d elements, 1 to 25 are allowed", at, len(list))
		}
		used := map[string]bool{}
		for _, e := range list {
			k.element(at, e)
			if id := text(e, "action_id"); used[id] {
				k.no("%s: action_id %q is there twice", at, id)
			} else {
				used[id] = true
			}
		}
	case "image":
		k.length(at+" alt_text", text(b, "alt_text"), 1, 2000)
	case "input":
		if k.surface == "message" {
			k.no("%s in a message", at)
		}
		k.text(at+" label", b["label"], 2000, "plain_text")
		if b["hint"] != nil {
			k.text(at+" hint", b["hint"], 2000, "plain_text")
		}
		e, _ := b["element"].(map[string]any)
		k.element(at, e)
	case "table":
		k.table(at, b)
	default:
		k.no("%s: not a block that this double knows", at)
	}
}

func (k *checker) section(at string, b map[string]any) {
	fields := objects(b["fields"])
	if b["text"] == nil && len(fields) == 0 {
		k.no("%s without text and fields", at)
	}
	if b["text"] != nil {
		k.text(at, b["text"], 3000, "plain_text", "mrkdwn")
	}
	if len(fields) > 10 {
		k.no("%s has %d fields, at most 10", at, len(fields))
	}
	for _, f := range fields {
		k.text(at+" field", f, 2000, "plain_text", "mrkdwn")
	}
	if e, ok := b["accessory"].(map[string]any); ok {
		k.element(at, e)
	}
}

// table checks a table: one a message, 100 rows of 20 cells, 10 000 characters.
func (k *checker) table(at string, b map[string]any) {
	k.tables++
	if k.surface != "message" {
		k.no("%s outside a message", at)
	}
	rows, _ := b["rows"].([]any)
	if len(rows) == 0 || len(rows) > 100 {
		k.no("%s has %d rows, 1 to 100 are allowed", at, len(rows))
	}
	width, total := -1, 0
	for i, r := range rows {
		cells := objects(r)
		if len(cells) == 0 || len(cells) > 20 {
			k.no("%s row %d has %d cells, 1 to 20 are allowed", at, i, len(cells))
		}
		if width >= 0 && len(cells) != width {
			k.no("%s row %d has %d cells, the first has %d", at, i, len(cells), width)
		}
		width = len(cells)
		for _, c := range cells {
			switch text(c, "type") {
			case "raw_text":
				if text(c, "text") == "" {
					k.no("%s row %d has an empty cell", at, i)
				}
				total += utf8.RuneCountInString(text(c, "text"))
			case "rich_text":
			default:
				k.no("%s row %d has a cell of type %q", at, i, text(c, "type"))
			}
		}
	}
	if total > 10000 {
		k.no("%s holds %d characters, at most 10000", at, total)
	}
	settings, _ := b["column_settings"].([]any)
	if len(settings) > 20 {
		k.no("%s has %d column settings", at, len(settings))
	}
}

func (k *checker) text(at string, v any, most int, kinds ...string) {
	t, ok := v.(map[string]any)
	if !ok {
		k.no("%s without text", at)
		return
	}
	if !slices.Contains(kinds, text(t, "type")) {
		k.no("%s: text of type %q", at, text(t, "type"))
	}
	if _, emoji := t["emoji"]; emoji && text(t, "type") == "mrkdwn" {
		k.no("%s: emoji is not for mrkdwn", at)
	}
	k.length(at, text(t, "text"), 1, most)
}

func (k *checker) option(at string, o map[string]any) {
	k.text(at, o["text"], 75, "plain_text", "mrkdwn")
	k.length(at+" value", text(o, "value"), 1, 150)
}

func (k *checker) element(at string, e map[string]any) {
	kind := text(e, "type")
	at += " " + kind
	if id, ok := e["action_id"]; ok {
		name, _ := id.(string)
		k.length(at+" action_id", name, 1, 255)
	}
	if e["placeholder"] != nil {
		k.text(at+" placeholder", e["placeholder"], 150, "plain_text")
	}
	switch kind {
	case "button":
		k.text(at, e["text"], 75, "plain_text")
		if v, ok := e["value"]; ok {
			value, _ := v.(string)
			k.length(at+" value", value, 1, 2000)
		}
		if style := text(e, "style"); style != "" && style != "primary" && style != "danger" {
			k.no("%s of style %q", at, style)
		}
	case "external_select":
		if o, ok := e["initial_option"].(map[string]any); ok {
			k.option(at+" initial_option", o)
		}
	case "overflow":
		list := objects(e["options"])
		if len(list) == 0 || len(list) > 5 {
			k.no("%s has %d options, 1 to 5 are allowed", at, len(list))
		}
		for _, o := range list {
			k.option(at, o)
			if t, _ := o["text"].(map[string]any); text(t, "type") != "plain_text" {
				k.no("%s: its options are plain_text", at)
			}
		}
	case "static_select":
		list := objects(e["options"])
		if len(list) == 0 || len(list) > 100 {
			k.no("%s has %d options, 1 to 100 are allowed", at, len(list))
		}
		for _, o := range list {
			k.option(at, o)
		}
	case "plain_text_input":
		n, _ := e["max_length"].(float64)
		if n < 0 || n > 3000 {
			k.no("%s max_length %v", at, n)
		}
		if v := text(e, "initial_value"); n > 0 && utf8.RuneCountInString(v) > int(n) {
			k.no("%s: the initial value is longer than max_length", at)
		}
	default:
		k.no("%s: not an element that this double knows", at)
	}
}

// readView reads a modal or a front page.
func readView(raw json.RawMessage, kind string) (*View, string) {
	var v map[string]any
	if err := json.Unmarshal(raw, &v); err != nil {
		return nil, "invalid_arguments: view"
	}
	k := &checker{}
	if text(v, "type") != kind {
		k.no("a view of type %q", text(v, "type"))
	}
	blocks := encode(v["blocks"])
	k.bad = append(k.bad, checkBlocks(blocks, kind)...)
	out := &View{Callback: text(v, "callback_id"), Private: text(v, "private_metadata"), Blocks: blocks}
	k.length("private_metadata", out.Private, 0, 3000)
	k.length("callback_id", out.Callback, 0, 255)
	if kind == "modal" {
		k.text("title", v["title"], 24, "plain_text")
		if v["close"] != nil {
			k.text("close", v["close"], 24, "plain_text")
		}
		if v["submit"] != nil {
			k.text("submit", v["submit"], 24, "plain_text")
		} else if len(out.inputs()) > 0 {
			k.no("inputs without submit")
		}
	}
	if len(k.bad) > 0 {
		return nil, "invalid_arguments: " + strings.Join(k.bad, "; ")
	}
	return out, ""
}

func objects(v any) (list []map[string]any) {
	all, _ := v.([]any)
	for _, e := range all {
		m, _ := e.(map[string]any)
		list = append(list, m)
	}
	return list
}
