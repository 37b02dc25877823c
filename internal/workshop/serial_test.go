package workshop_test

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/workshop"
)

func TestCheckDigit(t *testing.T) {
	t.Parallel()
	const damm = "Damm 2004, the worked example 572 -> 4 as printed with the table of p. 111"
	tests := []struct {
		digits, source string
		want           byte
	}{
		{"572", damm, '4'},
		{"5724", damm + ": a number with its check digit gives 0", '0'},
		{"000572", "leading zeros change nothing, as the diagonal is 0 and 0 maps 0 to 0", '4'},
	}
	for _, tc := range tests {
		got, ok := workshop.CheckDigit(tc.digits)
		require.True(t, ok)
		require.Equal(t, string(tc.want), string(got), tc.source)
	}
	_, ok := workshop.CheckDigit("57x")
	require.False(t, ok)
	for s, want := range map[string]bool{"0572": false, "5724": true, "572": false, "057240000": false, "57a4": false, "": false} {
		require.Equal(t, want, workshop.SerialOK(s), s)
	}
}

// The claim of the dissertation, tried out on every four-digit number: one wrong digit and
// two neighbours swapped are always found.
func TestCheckDigitFindsSlips(t *testing.T) {
	t.Parallel()
	for n := 1000; n < 10_000; n++ {
		digits := strconv.Itoa(n)
		check, _ := workshop.CheckDigit(digits)
		serial := []byte(digits + string(check))
		for i := range serial {
			was := serial[i]
			for c := byte('0'); c <= '9'; c++ {
				if c != was {
					serial[i] = c
					require.False(t, workshop.SerialOK(string(serial)))
				}
			}
			serial[i] = was
			if i > 0 && serial[i-1] != was {
				serial[i-1], serial[i] = serial[i], serial[i-1]
				require.False(t, workshop.SerialOK(string(serial)), "%d", n)
				serial[i-1], serial[i] = serial[i], serial[i-1]
			}
		}
		require.True(t, workshop.SerialOK(string(serial)))
	}
}
