package rest

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
)

func TestSecondHandsOverREST(t *testing.T) {
	t.Parallel()
	c, _, _ := newBench(t)
	const path = "/api/v1/second-hands"
	var h api.SecondHands
	c.do("POST", path, map[string]any{"who": "Ben", "from_on": day(1), "to_on": day(60), "weekdays": []int{4, 2}, "start_minute": 480, "minutes": 240}).want(http.StatusCreated).into(&h)
	require.Equal(t, []int{2, 4}, h.Weekdays)
	tests := []struct {
		name, pointer string
		body          map[string]any
	}{
		{"hours below zero", "/minutes", map[string]any{"from_on": day(1), "weekdays": []int{1}, "start_minute": 480, "minutes": -60}},
		{"no hours", "/minutes", map[string]any{"from_on": day(1), "weekdays": []int{1}, "start_minute": 480, "minutes": 0}},
		{"past midnight", "/minutes", map[string]any{"from_on": day(1), "weekdays": []int{1}, "start_minute": 1200, "minutes": 300}},
		{"ends before it begins", "/to_on", map[string]any{"from_on": day(9), "to_on": day(3), "weekdays": []int{1}, "start_minute": 480, "minutes": 60}},
		{"an eighth day", "/weekdays", map[string]any{"from_on": day(1), "weekdays": []int{70000}, "start_minute": 480, "minutes": 60}},
		{"no day", "/weekdays", map[string]any{"from_on": day(1), "weekdays": []int{}, "start_minute": 480, "minutes": 60}},
		{"the same person twice", "/start_minute", map[string]any{"who": "ben", "from_on": day(2), "weekdays": []int{4}, "start_minute": 700, "minutes": 60}},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			require.Equal(t, []string{tc.pointer}, c.do("POST", path, tc.body).want(http.StatusUnprocessableEntity).pointers())
		})
	}
	one := at(path+"/", h.ID)
	c.do("GET", one, nil).want(http.StatusOK)
	c.do("PUT", one, map[string]any{"from_on": day(1), "weekdays": []int{6}, "start_minute": 420, "minutes": 300, "while_away": true}, header{"If-Match", `"1"`}).want(http.StatusOK).into(&h)
	require.True(t, h.WhileAway)
	c.do("PUT", one, map[string]any{"from_on": day(1), "weekdays": []int{6}, "start_minute": 420, "minutes": 300}, header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	var list api.SecondHandsList
	c.do("GET", path, nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	c.do("POST", one+"/end", map[string]any{"from_on": day(30)}).want(http.StatusNoContent)
	c.do("GET", path+"?on="+day(30), nil).want(http.StatusOK).into(&list)
	require.Empty(t, list.Items, "its last day is the one before")
	c.do("POST", one+"/end", map[string]any{"from_on": day(0)}).want(http.StatusNoContent)
	c.do("GET", one, nil).want(http.StatusNotFound)
	c.do("POST", one+"/end", map[string]any{"from_on": day(0)}).want(http.StatusNotFound)
}
