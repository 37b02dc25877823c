package access_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

func TestLooksAreBraked(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	r, _ := room(t, postgres.WithClock(func() time.Time { return now }))
	look := func(address string) error { return r.Look(t.Context(), address) }
	for range 12 {
		require.NoError(t, look("192.0.2.1"))
	}
	require.True(t, fault.Is(look("192.0.2.1"), fault.TooMany))
	require.NoError(t, look("192.0.2.2"), "somebody else")
	now = now.Add(16 * time.Minute)
	require.NoError(t, look("192.0.2.1"), "a quarter of an hour later")
	for i := range 239 {
		require.NoError(t, look(fmt.Sprintf("198.51.100.%d", i)))
	}
	require.True(t, fault.Is(look("203.0.113.9"), fault.TooMany), "from everywhere together")
	now = now.Add(16 * time.Minute)
	require.NoError(t, look(""), "no address: counted together only")
}
