package app

import (
	"fmt"

	"firn/bot/config"
	"firn/engine/ruleset"
)

// Configure reads a configuration, and gives the rule sets that may answer: the
// built-in ones, and those that the configuration brings. name is the file's,
// for errors.
func Configure(name string, data []byte) (*config.Config, []*ruleset.Set, error) {
	sets, err := ruleset.Builtin()
	if err != nil {
		return nil, nil, err
	}
	var known config.Known
	for _, s := range sets {
		known.Rules = append(known.Rules, s.ID)
	}
	cfg, err := config.Parse(name, data, known)
	if err != nil {
		return nil, nil, err
	}
	for _, raw := range cfg.RuleSets {
		set, err := ruleset.ParseAt(name, raw.Line, raw.YAML)
		if err != nil {
			return nil, nil, err
		}
		sets = append(sets, set)
	}
	for _, o := range cfg.RuleOptions {
		for i, set := range sets {
			if set.ID != o.Rules {
				continue
			}
			if sets[i], err = set.WithThreshold(o.AtOrBelow); err != nil {
				return nil, nil, fmt.Errorf("%s:%d: rule_options: %w", name, o.Line, err)
			}
		}
	}
	return cfg, sets, nil
}
