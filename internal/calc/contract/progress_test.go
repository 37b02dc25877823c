package contract_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
)

func TestWatch(t *testing.T) {
	t.Parallel()
	var heard []string
	say := func(unit string) func() contract.Progress {
		return func() contract.Progress { return contract.Progress{Unit: unit} }
	}
	ctx := contract.WithWatch(context.Background(), func(p contract.Progress) { heard = append(heard, p.Unit) })
	w := contract.WatchOf(ctx)
	w.Tell(say("first"))
	w.Tell(say("too soon"))
	require.Equal(t, []string{"first"}, heard)

	require.Nil(t, contract.WatchOf(context.Background()))
	contract.WatchOf(context.Background()).Tell(func() contract.Progress {
		require.Fail(t, "nobody listens")
		return contract.Progress{}
	})
}

func TestLongIsWhatHasATimeLimit(t *testing.T) {
	t.Parallel()
	type short struct {
		Limit *int `json:"limit_ms"`
	}
	type long struct {
		Limit *int `json:"time_limit_ms,omitempty"`
	}
	require.False(t, contract.New("a", "", "", func(context.Context, short) (int, error) { return 0, nil }).Long)
	require.True(t, contract.New("b", "", "", func(context.Context, long) (int, error) { return 0, nil }).Long)
}
