package storetest

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/bot/approach"
	"firn/engine/procedure"
)

// RunProcedures runs the suite of approach.Store; open gives an empty store.
func RunProcedures(t *testing.T, open func(t *testing.T) approach.Store) {
	for _, c := range []struct {
		name string
		test func(*testing.T, approach.Store)
	}{
		{"an approach comes back unchanged", procedureUnchanged},
		{"repeating an import changes nothing", procedureRepeated},
		{"a newer cycle takes the place of an older one", procedureNewer},
		{"an older cycle is refused", procedureOlder},
		{"far fewer airports of the same cycle are refused", procedureFewer},
		{"an import that fails changes nothing", procedureFails},
		{"airports that are not meant stay", procedureAirports},
		{"datasets are apart", procedureDatasets},
		{"a reader never sees half an import", procedureHalf},
		{"a cancelled context changes nothing", procedureCancelled},
	} {
		t.Run(c.name, func(t *testing.T) { c.test(t, open(t)) })
	}
}

func coded(ident, code string) approach.Approach {
	return approach.Approach{Ident: ident, Code: code, Name: "rnav " + strings.ToLower(code)}
}

// put imports approaches as one file.
func put(s approach.Store, dataset, cycle string, airports []string, all ...approach.Approach) (approach.Replaced, error) {
	return s.Replace(context.Background(), dataset, airports, func(add func(*approach.Approach) error) (approach.Edition, error) {
		for i := range all {
			if err := add(&all[i]); err != nil {
				return approach.Edition{}, err
			}
		}
		return approach.Edition{Cycle: cycle, Imported: at(1)}, nil
	})
}

func mustPut(t *testing.T, s approach.Store, cycle string, want approach.Replaced, all ...approach.Approach) {
	t.Helper()
	got, err := put(s, "cifp", cycle, nil, all...)
	if err != nil || got != want {
		t.Fatalf("Replace with %s = %+v, %v; want %+v", cycle, got, err, want)
	}
}

// codes are a station's procedures: code and cycle.
func codes(t *testing.T, s approach.Store, ident string) string {
	t.Helper()
	all, err := s.Procedures(t.Context(), ident)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, a := range all {
		out = append(out, a.Code+"/"+a.Cycle)
	}
	return strings.Join(out, " ")
}

func procedureUnchanged(t *testing.T, s approach.Store) {
	a := approach.Approach{
		Ident: "XKLD", Code: "R28-Y", Name: "rnav y 31", Source: "coded file", Cycle: "2609",
		Legs: []approach.Leg{{
			Transition: "XADLO", Fix: "XUBRI", Altitude: 9400, Altitude2: 10200.5, Angle: 3.05, Sequence: 20, Route: approach.FinalRoute,
			Role: approach.StepDown, Segment: procedure.Intermediate, Limit: approach.Between, Second: approach.Lower, Initial: true,
			HasAngle: true, Coded: 'R', Path: approach.Path{'T', 'F'},
		}},
		Minimums:   []approach.Minimum{{Name: "LNAV/VNAV", Role: procedure.DecisionAltitude, Altitude: 5340, Barometric: true}},
		NoFinalFix: true, VerticalAngle: 3.1, HasAngle: true, MissedFix: "XADLO", MissedAltitude: 10200, HasMissed: true, SectorAltitude: 12500, HasSector: true,
		Effective: at(1).UTC().Truncate(24 * time.Hour), End: at(1).UTC().AddDate(0, 0, 28).Truncate(24 * time.Hour), Unread: 2,
	}
	a.Title.Letter = "Y"
	mustPut(t, s, "2609", approach.Replaced{After: 1}, a)
	got, err := s.Procedures(t.Context(), "XKLD")
	if err != nil || len(got) != 1 || !reflect.DeepEqual(got[0], a) {
		t.Errorf("got  %+v, %v\nwant %+v", got, err, a)
	}
	if got, err := s.Procedures(t.Context(), "XRUN"); err != nil || len(got) != 0 {
		t.Errorf("procedures of another station: %+v, %v", got, err)
	}
}

func cycled(cycle string, all ...approach.Approach) []approach.Approach {
	for i := range all {
		all[i].Cycle = cycle
	}
	return all
}

func procedureRepeated(t *testing.T, s approach.Store) {
	two := cycled("2609", coded("XKLD", "R28"), coded("XKLD", "I10"))
	mustPut(t, s, "2609", approach.Replaced{After: 2}, two...)
	mustPut(t, s, "2609", approach.Replaced{Before: 2, After: 2, Was: "2609"}, append(two, two[0])...)
	if got, want := codes(t, s, "XKLD"), "I10/2609 R28/2609"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func procedureNewer(t *testing.T, s approach.Store) {
	mustPut(t, s, "2609", approach.Replaced{After: 2}, cycled("2609", coded("XKLD", "R28"), coded("XRUN", "I10"))...)
	mustPut(t, s, "2610", approach.Replaced{Before: 2, After: 1, Was: "2609"}, cycled("2610", coded("XKLD", "R28-Z"))...)
	if got, want := codes(t, s, "XKLD")+codes(t, s, "XRUN"), "R28-Z/2610"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func procedureOlder(t *testing.T, s approach.Store) {
	mustPut(t, s, "2610", approach.Replaced{After: 1}, cycled("2610", coded("XKLD", "R28"))...)
	if _, err := put(s, "cifp", "2609", nil, cycled("2609", coded("XKLD", "R10"))...); !errors.Is(err, approach.ErrOlder) {
		t.Errorf("an older cycle: %v, want ErrOlder", err)
	}
	if got, want := codes(t, s, "XKLD"), "R28/2610"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// procedureFewer: a file that was cut off has no word of it when its header went too: what is
// stored of the same cycle tells.
func procedureFewer(t *testing.T, s approach.Store) {
	airports := func(cycle string, n int) (all []approach.Approach) {
		for i := range n {
			all = append(all, coded(fmt.Sprintf("XA%02d", i), "R28"))
		}
		return cycled(cycle, all...)
	}
	mustPut(t, s, "2609", approach.Replaced{After: 20}, airports("2609", 20)...)
	mustPut(t, s, "2609", approach.Replaced{Before: 20, After: 18, Was: "2609"}, airports("2609", 18)...)
	if _, err := put(s, "cifp", "2609", nil, airports("2609", 16)...); !errors.Is(err, approach.ErrFewer) {
		t.Errorf("16 airports where 18 are stored: %v, want ErrFewer", err)
	}
	if got := codes(t, s, "XA17"); got != "R28/2609" {
		t.Errorf("after a refusal: got %q, want what was there", got)
	}
	got, err := s.Replace(t.Context(), "cifp", nil, func(add func(*approach.Approach) error) (approach.Edition, error) {
		a := coded("XA00", "R10")
		return approach.Edition{Cycle: "2609", Partial: true}, add(&a)
	})
	if want := (approach.Replaced{Before: 18, After: 1, Was: "2609"}); err != nil || got != want {
		t.Errorf("an excerpt that is meant: got %+v, %v, want %+v", got, err, want)
	}
}

func procedureFails(t *testing.T, s approach.Store) {
	mustPut(t, s, "2609", approach.Replaced{After: 1}, cycled("2609", coded("XKLD", "R28"))...)
	broken := errors.New("broken off")
	_, err := s.Replace(t.Context(), "cifp", nil, func(add func(*approach.Approach) error) (approach.Edition, error) {
		a := coded("XKLD", "R10")
		if err := add(&a); err != nil {
			return approach.Edition{}, err
		}
		return approach.Edition{}, broken
	})
	if !errors.Is(err, broken) {
		t.Errorf("Replace = %v, want the error of fill", err)
	}
	if _, err := put(s, "cifp", "", nil, coded("XKLD", "R10")); err == nil {
		t.Error("an edition without a cycle was taken")
	}
	if got, want := codes(t, s, "XKLD"), "R28/2609"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func procedureAirports(t *testing.T, s approach.Store) {
	mustPut(t, s, "2609", approach.Replaced{After: 2}, cycled("2609", coded("XKLD", "R28"), coded("XRUN", "I10"))...)
	got, err := put(s, "cifp", "2610", []string{"XKLD"}, cycled("2610", coded("XKLD", "R28"), coded("XKLD", "R10"))...)
	if want := (approach.Replaced{Before: 1, After: 2, Was: "2609"}); err != nil || got != want {
		t.Errorf("Replace = %+v, %v; want %+v", got, err, want)
	}
	if got, want := codes(t, s, "XKLD")+" "+codes(t, s, "XRUN"), "R10/2610 R28/2610 I10/2609"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	if _, err := put(s, "cifp", "2610", []string{"XKLD"}, coded("XRUN", "R10")); err == nil {
		t.Error("an approach of an airport that was not meant was taken")
	}
	// An airport whose own cycle is older may have the file's.
	if _, err := put(s, "cifp", "2609", []string{"XRUN"}, cycled("2609", coded("XRUN", "I10"))...); err != nil {
		t.Errorf("an airport of the same cycle: %v", err)
	}
}

func procedureDatasets(t *testing.T, s approach.Store) {
	mustPut(t, s, "2609", approach.Replaced{After: 1}, cycled("2609", coded("XKLD", "R28"))...)
	if _, err := put(s, "other", "2601", nil, cycled("2601", coded("XKLD", "R28"))...); err != nil {
		t.Fatal(err)
	}
	if got, want := codes(t, s, "XKLD"), "R28/2609 R28/2601"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func procedureHalf(t *testing.T, s approach.Store) {
	const n = 40
	edition := func(cycle string) (all []approach.Approach) {
		for i := range n {
			all = append(all, coded("XKLD", fmt.Sprintf("R%02d", i)))
		}
		return cycled(cycle, all...)
	}
	mustPut(t, s, "2601", approach.Replaced{After: n}, edition("2601")...)
	done := make(chan struct{})
	var readers sync.WaitGroup
	for range 2 {
		readers.Go(func() {
			for {
				select {
				case <-done:
					return
				default:
				}
				all, err := s.Procedures(context.Background(), "XKLD")
				cycles := map[string]int{}
				for _, a := range all {
					cycles[a.Cycle]++
				}
				if err != nil || len(cycles) != 1 || len(all) != n {
					t.Errorf("a reader sees %v, %v", cycles, err)
					return
				}
			}
		})
	}
	for i := range 5 {
		if _, err := put(s, "cifp", fmt.Sprintf("26%02d", i+2), nil, edition(fmt.Sprintf("26%02d", i+2))...); err != nil {
			t.Error(err)
		}
	}
	close(done)
	readers.Wait()
}

func procedureCancelled(t *testing.T, s approach.Store) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := s.Replace(ctx, "cifp", nil, func(func(*approach.Approach) error) (approach.Edition, error) {
		return approach.Edition{Cycle: "2609"}, nil
	}); err == nil {
		t.Error("Replace with a context that has ended succeeded")
	}
	if _, err := s.Procedures(ctx, "XKLD"); err == nil {
		t.Error("Procedures with a context that has ended succeeded")
	}
}

// Procedures is an approach.Store in memory.
type Procedures struct {
	mu  sync.Mutex
	all map[procedureKey]approach.Approach
}

type procedureKey struct{ dataset, ident, code string }

var _ approach.Store = (*Procedures)(nil)

// Replace puts a file in the place of an earlier one.
func (p *Procedures) Replace(ctx context.Context, dataset string, airports []string, fill func(add func(*approach.Approach) error) (approach.Edition, error)) (approach.Replaced, error) {
	if err := ctx.Err(); err != nil {
		return approach.Replaced{}, err
	}
	fresh := map[procedureKey]approach.Approach{}
	edition, err := fill(func(a *approach.Approach) error {
		if len(airports) > 0 && !slices.Contains(airports, a.Ident) {
			return fmt.Errorf("%s is not among the airports that are meant", a.Ident)
		}
		fresh[procedureKey{dataset, a.Ident, a.Code}] = a.Clone()
		return nil
	})
	if err != nil {
		return approach.Replaced{}, fmt.Errorf("replace procedures: %w", err)
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	done := approach.Replaced{After: len(fresh)}
	var gone []procedureKey
	before, after := map[string]bool{}, map[string]bool{}
	for k := range fresh {
		after[k.ident] = true
	}
	for k, a := range p.all {
		if k.dataset == dataset && (len(airports) == 0 || slices.Contains(airports, k.ident)) {
			gone = append(gone, k)
			done.Before++
			before[k.ident] = true
			done.Was = max(done.Was, a.Cycle)
		}
	}
	if err := edition.Follow(done.Was, len(before), len(after)); err != nil {
		return approach.Replaced{}, fmt.Errorf("replace procedures: %w", err)
	}
	if p.all == nil {
		p.all = map[procedureKey]approach.Approach{}
	}
	for _, k := range gone {
		delete(p.all, k)
	}
	for k, a := range fresh {
		p.all[k] = a
	}
	return done, nil
}

// Procedures are those of a station.
func (p *Procedures) Procedures(ctx context.Context, ident string) ([]approach.Approach, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	var keys []procedureKey
	for k := range p.all {
		if k.ident == ident {
			keys = append(keys, k)
		}
	}
	slices.SortFunc(keys, func(a, b procedureKey) int {
		return strings.Compare(a.code+"\x00"+a.dataset, b.code+"\x00"+b.dataset)
	})
	var out []approach.Approach
	for _, k := range keys {
		a := p.all[k]
		out = append(out, a.Clone())
	}
	return out, nil
}
