package chat

import "sync"

// workersKept is how many wait for more: an answer waits a tenth of a second for its
// record, and some hundred come in a second. Ours.
const workersKept = 32

// Workers do what a surface has to do, each thing in a goroutine of its own, as a
// sync.WaitGroup's Go does. Whoever is done takes what comes next: a goroutine
// that begins has a small stack, and copies it several times in the course of
// an answer. Who was busy last is next. The zero value is ready; safe for use by
// several goroutines.
type Workers struct {
	busy, there sync.WaitGroup

	mu   sync.Mutex
	idle []chan func()
}

// Go does something; nobody waits for it.
func (w *Workers) Go(do func()) {
	w.busy.Add(1)
	w.mu.Lock()
	if n := len(w.idle) - 1; n >= 0 {
		next := w.idle[n]
		w.idle = w.idle[:n]
		w.mu.Unlock()
		next <- do
		return
	}
	w.mu.Unlock()
	w.there.Go(func() { w.work(do) })
}

// work is a worker's life.
func (w *Workers) work(do func()) {
	next := make(chan func(), 1)
	for more := true; more; do, more = <-next {
		do()
		kept := w.rest(next)
		w.busy.Done()
		if !kept {
			return
		}
	}
}

// rest has a worker wait for more, where not too many do.
func (w *Workers) rest(next chan func()) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.idle) == workersKept {
		return false
	}
	w.idle = append(w.idle, next)
	return true
}

// Wait waits until everything is done, and no goroutine is left over. Nothing
// may be begun meanwhile but by what is under way.
func (w *Workers) Wait() {
	w.busy.Wait()
	w.mu.Lock()
	for _, next := range w.idle {
		close(next)
	}
	w.idle = nil
	w.mu.Unlock()
	w.there.Wait()
}
