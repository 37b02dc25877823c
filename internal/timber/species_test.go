package timber_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/wood"
	"kerfbook/internal/fault"
	"kerfbook/internal/timber"
)

func TestSpeciesSeedKeepsTheMakersFigures(t *testing.T) {
	t.Parallel()
	w := newWorld(t) // has its own hoop pine already
	n, err := w.room.SpeciesSeed(t.Context())
	require.NoError(t, err)
	table := wood.SpeciesTable()
	require.Equal(t, len(table)-1, n)
	own, err := w.room.SpeciesByCode(t.Context(), "hoop-pine")
	require.NoError(t, err)
	require.Equal(t, w.species, own)

	n, err = w.room.SpeciesSeed(t.Context())
	require.NoError(t, err)
	require.Zero(t, n)
	list, err := w.room.SpeciesList(t.Context(), false)
	require.NoError(t, err)
	require.Len(t, list, len(table))
	for _, row := range table {
		s, err := w.room.SpeciesByCode(t.Context(), row.ID)
		require.NoError(t, err)
		if row.ID == "hoop-pine" {
			continue
		}
		require.Equal(t, row.Source, s.Source, "every figure carries its source")
		require.InDelta(t, row.TangentialPct, s.TangentialPct.InexactFloat64(), 0.005)
		if row.AirDryKgM3 > 0 {
			density, gravity, ok := s.Basis()
			require.True(t, ok)
			require.InDelta(t, row.AirDryKgM3, density, 0.05)
			require.InDelta(t, row.AirDryKgM3, wood.DensityKgM3(gravity, 12), 0.05)
		}
	}
}

func TestSpeciesSave(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	s := w.species
	s.Name = "hoop pine, Kilcoy"
	s.RadialPct = ptr(d("2.5"))
	got, err := w.room.SpeciesSave(t.Context(), s)
	require.NoError(t, err)
	require.Equal(t, s.Version+1, got.Version)
	_, err = w.room.SpeciesSave(t.Context(), s)
	require.True(t, fault.Is(err, fault.Stale), "%v", err)
	s.ID = 99_999
	_, err = w.room.SpeciesSave(t.Context(), s)
	require.True(t, fault.Is(err, fault.NotFound), "%v", err)

	tests := []struct {
		name, pointer string
		change        func(*timber.Species)
		kind          fault.Kind
	}{
		{"no name", "/name", func(s *timber.Species) { s.Name = " " }, fault.Invalid},
		{"a code with blanks", "/code", func(s *timber.Species) { s.Code = "hoop pine" }, fault.Invalid},
		{"a taken code", "/code", func(s *timber.Species) { s.Code = "hoop-pine" }, fault.Conflict},
		{"lead", "/density_kg_m3", func(s *timber.Species) { s.DensityKgM3 = ptr(d("11340")) }, fault.Invalid},
		{"shrinks to nothing", "/tangential_pct", func(s *timber.Species) { s.TangentialPct = ptr(d("100")) }, fault.Invalid},
		{"a gift", "/metre_cost_minor", func(s *timber.Species) { s.MetreCostMinor = -1 }, fault.Invalid},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			s := timber.Species{Code: "new-wood", Name: "new wood"}
			tc.change(&s)
			_, err := w.room.SpeciesSave(t.Context(), s)
			requireField(t, err, tc.kind, tc.pointer)
		})
	}
}

func ptr[T any](v T) *T { return &v }

// requireField asserts that err is of a kind and names a field.
func requireField(t *testing.T, err error, kind fault.Kind, pointer string) {
	t.Helper()
	var f *fault.Error
	require.ErrorAs(t, err, &f)
	require.Equal(t, kind, f.Kind, "%v", err)
	pointers := []string{}
	for _, one := range f.Fields {
		pointers = append(pointers, one.Pointer)
	}
	require.Contains(t, pointers, pointer, "%v", err)
}
