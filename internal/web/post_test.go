package web

import (
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
)

// Signs with a meaning in an address (RFC 3986) come through: a phone that splits the
// address reads the whole words.
func TestWordsInLinks(t *testing.T) {
	t.Parallel()
	words := "Hello Saw & Screw, 100 % = all + more?\n#1"
	read := func(link, field string) string {
		_, query, _ := strings.Cut(link, "?")
		values, err := url.ParseQuery(query)
		require.NoError(t, err)
		return values.Get(field)
	}
	rows := tellRows([]answer.RunMessage{{Name: "Ada", Text: words, Phone: "07 5550 0101", Email: "ada+bees@example.com"}})
	require.Equal(t, words, read(string(rows[0].SMS), "body"))
	require.True(t, strings.HasPrefix(string(rows[0].SMS), "sms:0755500101?"))
	require.Equal(t, strings.ReplaceAll(words, "\n", "\r\n"), read(string(rows[0].Mail), "body"))
	to, _, _ := strings.Cut(strings.TrimPrefix(string(rows[0].Mail), "mailto:"), "?")
	to, err := url.PathUnescape(to)
	require.NoError(t, err)
	require.Equal(t, "ada+bees@example.com", to)
}
