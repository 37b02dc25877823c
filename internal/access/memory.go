package access

import (
	"crypto/sha256"
	"sync"
	"time"
)

// memory holds who was found lately, so that a busy program is not looked up for every
// request. What it holds is short-lived: another server's sign-out is seen within keep.
type memory struct {
	keep time.Duration
	mu   sync.Mutex
	seen map[[32]byte]remembered
	turn int // counts forget, so that a look-up under way is not kept afterwards
}

type remembered struct {
	person Person
	until  time.Time
}

// memoryFull is when old entries are thrown out, by throwing out all.
const memoryFull = 4096

func newMemory(keep time.Duration) *memory {
	return &memory{keep: keep, seen: map[[32]byte]remembered{}}
}

// get gives the person of secret, from memory or by look; only somebody known is kept.
func (m *memory) get(secret string, look func() (Person, error)) (Person, error) {
	if m.keep < 0 {
		return look()
	}
	key := sha256.Sum256([]byte(secret))
	m.mu.Lock()
	hit, ok := m.seen[key]
	turn := m.turn
	m.mu.Unlock()
	if ok && time.Now().Before(hit.until) {
		return hit.person, nil
	}
	p, err := look()
	if err != nil || !p.Known() {
		return p, err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if turn == m.turn {
		if len(m.seen) >= memoryFull {
			clear(m.seen)
		}
		m.seen[key] = remembered{p, time.Now().Add(m.keep)}
	}
	return p, nil
}

// forget drops everything: an account, a session or a token has changed.
func (m *memory) forget() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.turn++
	clear(m.seen)
}
