package topics_test

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/topics"
)

// deadline bounds one calculation here; the slowest is told to stop after one second.
const deadline = 20 * time.Second

func run(t *testing.T, tp contract.Topic, raw []byte) ([]byte, error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), deadline)
	defer cancel()
	out, err := tp.Run(ctx, raw)
	if err != nil {
		return nil, err
	}
	text, err := json.Marshal(out)
	require.NoError(t, err, "%s: an output that cannot be written (NaN?)", tp.Name)
	return text, nil
}

func requireRefused(t *testing.T, tp contract.Topic, raw []byte, why string) {
	t.Helper()
	_, err := run(t, tp, raw)
	var bad *contract.Error
	require.ErrorAs(t, err, &bad, "%s: %s", tp.Name, why)
	require.NotEmpty(t, bad.Fields, tp.Name)
	for _, f := range bad.Fields {
		require.NotEmpty(t, f.Detail, tp.Name)
	}
}

func TestEveryExample(t *testing.T) {
	t.Parallel()
	for _, tp := range topics.All() {
		t.Run(tp.Name, func(t *testing.T) {
			t.Parallel()
			require.NotEmpty(t, tp.Summary)
			first, err := run(t, tp, []byte(tp.Example))
			require.NoError(t, err)
			require.NotContains(t, string(first), "NaN")
			require.NotContains(t, string(first), "Infinity")
			var fields map[string]any
			require.NoError(t, json.Unmarshal(first, &fields))
			require.NotEmpty(t, fields)
			second, err := run(t, tp, []byte(tp.Example))
			require.NoError(t, err)
			require.Equal(t, string(first), string(second), "the same input gives the same output")
		})
	}
}

// TestEveryTopicRefuses: the contract refuses unknown fields, text that is no
// object, and what follows the closing brace.
func TestEveryTopicRefuses(t *testing.T) {
	t.Parallel()
	for _, tp := range topics.All() {
		t.Run(tp.Name, func(t *testing.T) {
			t.Parallel()
			var example map[string]any
			require.NoError(t, json.Unmarshal([]byte(tp.Example), &example))
			example["no_such_field"] = 1
			raw, err := json.Marshal(example)
			require.NoError(t, err)
			requireRefused(t, tp, raw, "unknown field")
			requireRefused(t, tp, []byte(tp.Example+"{}"), "text after the end")
			requireRefused(t, tp, []byte(tp.Example)[:len(tp.Example)-1], "breaks off")
			for _, text := range []string{"", "null", "[]", "7", `"text"`, "{", "{}", "NaN", "\x00\xff", strings.Repeat("[", 20000)} {
				requireRefused(t, tp, []byte(text), text)
			}
		})
	}
}

// TestEveryNumberMadeAbsurd puts NaN and numbers no float can hold where a number
// of the example stands, one at a time.
func TestEveryNumberMadeAbsurd(t *testing.T) {
	t.Parallel()
	for _, tp := range topics.All() {
		t.Run(tp.Name, func(t *testing.T) {
			t.Parallel()
			for _, at := range numbersOf(t, tp.Example) {
				for _, absurd := range []string{"NaN", "1e400", "-1e400", "1e999999", `{"a":1}`, "[1]"} {
					raw := tp.Example[:at[0]] + absurd + tp.Example[at[1]:]
					requireRefused(t, tp, []byte(raw), raw)
				}
			}
		})
	}
}

// numbersOf gives where the numbers of a JSON text stand, as [from, to).
func numbersOf(t *testing.T, text string) [][2]int {
	t.Helper()
	d := json.NewDecoder(strings.NewReader(text))
	d.UseNumber()
	var found [][2]int
	for d.More() || d.InputOffset() < int64(len(strings.TrimSpace(text))) {
		token, err := d.Token()
		if err != nil {
			break
		}
		if n, ok := token.(json.Number); ok {
			end := int(d.InputOffset())
			found = append(found, [2]int{end - len(n), end})
		}
	}
	return found
}

func TestAllIsSortedAndFound(t *testing.T) {
	t.Parallel()
	all := topics.All()
	require.NotEmpty(t, all)
	for i, tp := range all {
		if i > 0 {
			require.Less(t, all[i-1].Name, tp.Name)
		}
		got, ok := topics.Find(tp.Name)
		require.True(t, ok)
		require.Equal(t, tp.Summary, got.Summary)
	}
	_, ok := topics.Find("no-such-topic")
	require.False(t, ok)
}

// FuzzTopics: whatever comes in, a topic answers or refuses; it neither panics nor
// writes NaN. The first byte chooses the topic.
func FuzzTopics(f *testing.F) {
	for i, tp := range topics.All() {
		f.Add(byte(i), []byte(tp.Example))
		f.Add(byte(i), bytes.ReplaceAll([]byte(tp.Example), []byte("1"), []byte("-1")))
		f.Add(byte(i), bytes.ReplaceAll([]byte(tp.Example), []byte("1"), []byte("0")))
		f.Add(byte(i), bytes.ReplaceAll([]byte(tp.Example), []byte("0"), []byte("9e9")))
	}
	f.Fuzz(func(t *testing.T, which byte, raw []byte) {
		all := topics.All()
		tp := all[int(which)%len(all)]
		text, err := run(t, tp, raw)
		if err != nil {
			var bad *contract.Error
			require.ErrorAs(t, err, &bad, "%s: %v", tp.Name, err)
			return
		}
		require.NotContains(t, string(text), "NaN")
	})
}
