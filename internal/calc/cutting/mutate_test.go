package cutting

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// mutants gives every plan that differs from v in one place: a number up or down by one, a
// text made another, a list with an item dropped or doubled, true for false.
func mutants(v any, set func(any), at string, each func(string)) {
	try := func(what string, other any) {
		set(other)
		each(at + " " + what)
		set(v)
	}
	switch x := v.(type) {
	case float64:
		try("up", x+1)
		try("down", x-1)
		try("a tenth", x+0.1)
	case string:
		try("another", x+"x")
	case bool:
		try("turned", !x)
	case []any:
		for i := range x {
			without := append(append([]any{}, x[:i]...), x[i+1:]...)
			try(fmt.Sprint("without ", i), without)
			try(fmt.Sprint("twice ", i), append(append([]any{}, x...), x[i]))
			mutants(x[i], func(o any) { x[i] = o }, fmt.Sprint(at, "/", i), each)
		}
	case map[string]any:
		for k := range x {
			if at == "" && k == "work" {
				continue // says nothing about the plan
			}
			mutants(x[k], func(o any) { x[k] = o }, at+"/"+k, each)
		}
	}
}

// TestCheckRefusesEveryMutant: no plan that was changed in one place passes, but for those
// that say less than they could: a lower bound, or one that is not called proved.
func TestCheckRefusesEveryMutant(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(8, 15))
	tried, short := 0, 0
	for range 60 {
		in := tiny(r)
		keep := float64(r.IntN(200))
		in.KeepOffcutMM = &keep
		if validate(in) != nil {
			continue
		}
		out, err := Plan(context.Background(), in)
		require.NoError(t, err)
		if len(out.Unplaced) > 0 {
			short++
		}
		raw, err := json.Marshal(out)
		require.NoError(t, err)
		var whole any
		require.NoError(t, json.Unmarshal(raw, &whole))
		mutants(whole, func(any) {}, "", func(what string) {
			raw, err := json.Marshal(whole)
			require.NoError(t, err)
			var changed Out
			if json.Unmarshal(raw, &changed) != nil {
				return
			}
			saysLess := changed.Bound.LessThan(out.Bound.Decimal) && !changed.Proved ||
				out.Proved && !changed.Proved || changed.LeastUnplacedMM < out.LeastUnplacedMM && !changed.Proved
			// A bound between the true one and the plan's value cannot be told from a true one.
			unproved := !out.Proved && (what == "/bound up" || what == "/bound a tenth" || what == "/proved turned" || what == "/least_unplaced_mm up" || what == "/least_unplaced_mm a tenth")
			tried++
			if saysLess || unproved {
				return
			}
			require.Error(t, Check(in, changed), "%s: %+v\n%s", what, in, raw)
		})
	}
	require.Greater(t, tried, 2000)
	require.Greater(t, short, 3)
}
