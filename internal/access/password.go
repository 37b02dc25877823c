package access

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"

	"kerfbook/internal/fault"
)

// Cost is what argon2id spends on one password.
type Cost struct {
	MemoryKiB uint32
	Passes    uint32
	Threads   uint8
}

// DefaultCost is 19 MiB, two passes, one thread: the least that the OWASP Password
// Storage Cheat Sheet (from memory) asks of argon2id; about 40 ms on a small machine.
var DefaultCost = Cost{MemoryKiB: 19 * 1024, Passes: 2, Threads: 1}

// TestCost is so cheap that tests need not wait. Never for a real book.
var TestCost = Cost{MemoryKiB: 16, Passes: 1, Threads: 1}

const (
	saltBytes, keyBytes       = 16, 32
	passwordLeast, passwordTo = 10, 200 // characters
)

// hash gives the encoded argon2id hash of password: $argon2id$v=19$m=,t=,p=$salt$key.
func (c Cost) hash(password string) string {
	salt := make([]byte, saltBytes)
	_, _ = rand.Read(salt) // never fails, see crypto/rand
	key := argon2.IDKey([]byte(password), salt, c.Passes, c.MemoryKiB, c.Threads, keyBytes)
	b64 := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, c.MemoryKiB, c.Passes, c.Threads, b64(salt), b64(key))
}

// matches reports whether password made the encoded hash; a hash that cannot be read
// matches nothing.
func matches(encoded, password string) bool {
	parts := strings.Split(encoded, "$")
	if len(parts) != 6 || parts[1] != "argon2id" {
		return false
	}
	var version int
	var c Cost
	if _, err := fmt.Sscanf(parts[2], "v=%d", &version); err != nil || version != argon2.Version {
		return false
	}
	if _, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &c.MemoryKiB, &c.Passes, &c.Threads); err != nil || c.Passes == 0 || c.Threads == 0 {
		return false
	}
	salt, err1 := base64.RawStdEncoding.DecodeString(parts[4])
	want, err2 := base64.RawStdEncoding.DecodeString(parts[5])
	if err1 != nil || err2 != nil || len(want) != keyBytes {
		return false
	}
	got := argon2.IDKey([]byte(password), salt, c.Passes, c.MemoryKiB, c.Threads, keyBytes)
	return subtle.ConstantTimeCompare(got, want) == 1
}

// check is matches, a few at a time; it gives up when ctx ends.
func (r *Room) check(ctx context.Context, encoded, password string) (bool, error) {
	select {
	case r.checking <- struct{}{}:
		defer func() { <-r.checking }()
		return matches(encoded, password), nil
	case <-ctx.Done():
		return false, fault.Wrap(ctx.Err(), fault.Unavailable, "Too many people are signing in just now. Try again in a moment.")
	}
}

// goodPassword refuses a password that is too short, too long or the sign-in itself.
func goodPassword(l *fault.List, pointer, password, signIn string) {
	n := utf8.RuneCountInString(password)
	switch {
	case n < passwordLeast:
		l.Add(pointer, "The password needs at least %d characters; a short sentence is good.", passwordLeast)
	case n > passwordTo:
		l.Add(pointer, "The password may have at most %d characters.", passwordTo)
	case strings.EqualFold(password, signIn):
		l.Add(pointer, "The password must not be the sign-in name.")
	}
}
