package answer

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestWordsOfTheLine(t *testing.T) {
	t.Parallel()
	require.Equal(t, "Sep, Oct, Nov, Jan, Feb", monthNames([]int{1, 2, 9, 10, 11}), "the season runs over the new year")
	require.Equal(t, "Apr, May, Jun", monthNames([]int{4, 5, 6}))
	require.Equal(t, "Dec", monthNames([]int{12}))
	require.Empty(t, monthNames(nil))
	for n, word := range map[int]string{1: "first", 10: "tenth", 11: "11th", 12: "12th", 13: "13th", 21: "21st", 22: "22nd", 23: "23rd", 111: "111th", 101: "101st"} {
		require.Equal(t, word, ordinal(n))
	}
}
