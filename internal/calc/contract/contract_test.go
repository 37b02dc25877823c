package contract_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
)

type item struct {
	ID   string  `json:"id" need:"yes"`
	Size float64 `json:"size_mm" need:"yes"`
	Note string  `json:"note"`
}

type basis struct {
	From float64 `json:"from" need:"yes"`
}

type order struct {
	basis
	Rate  float64  `json:"rate_pct" need:"yes"`
	Items []item   `json:"items" need:"yes"`
	Step  *float64 `json:"step"`
}

// Every row's refusal follows from the contract: unknown fields are refused,
// only fields with a question mark may be left out.
func TestDecode(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, raw, pointer string
	}{
		{"whole", `{"from":0,"rate_pct":0,"items":[{"id":"a","size_mm":1}]}`, ""},
		{"empty list is there", `{"from":0,"rate_pct":0,"items":[]}`, ""},
		{"left out", `{"from":0,"items":[]}`, "/rate_pct"},
		{"null", `{"from":0,"rate_pct":null,"items":[]}`, "/rate_pct"},
		{"left out of the embedded part", `{"rate_pct":1,"items":[]}`, "/from"},
		{"left out in a list", `{"from":0,"rate_pct":1,"items":[{"id":"a","size_mm":2},{"id":"b"}]}`, "/items/1/size_mm"},
		{"unknown", `{"from":0,"rate_pct":1,"items":[],"colour":"red"}`, "/colour"},
		{"wrong type", `{"from":1,"rate_pct":"x","items":[]}`, "/rate_pct"},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			var in order
			err := contract.Decode([]byte(tc.raw), &in)
			if tc.pointer == "" {
				require.NoError(t, err)
				return
			}
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			require.Equal(t, tc.pointer, bad.Fields[0].Pointer)
		})
	}
}

func TestDecodeRefusesWhatIsNoObject(t *testing.T) {
	t.Parallel()
	for _, raw := range []string{"", "{", "[]", "nul", `{"from":NaN}`, `{"from":1e999}`, `{} {}`, "\x00"} {
		var in order
		var bad *contract.Error
		require.True(t, errors.As(contract.Decode([]byte(raw), &in), &bad), raw)
	}
}
