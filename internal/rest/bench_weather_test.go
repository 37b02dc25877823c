package rest

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
)

func TestWeatherOverREST(t *testing.T) {
	t.Parallel()
	c, sp, rev := newBench(t)
	var w api.Weather
	c.do("GET", "/api/v1/weather", nil).want(http.StatusOK).into(&w)
	require.True(t, w.Guess)
	require.Len(t, w.DryChancePct, 12)
	c.do("POST", "/api/v1/weather", `{"rain_days":[3,14,3,15,3,3,3,3,3,3,3,3]}`).want(http.StatusOK).into(&w)
	require.False(t, w.Guess)
	require.InDelta(t, 50, w.DryChancePct[3], 1e-9, "15 of April's 30 days")
	require.Equal(t, []string{"/rain_days/1"}, c.do("POST", "/api/v1/weather", `{"rain_days":[3,29,3,15,3,3,3,3,3,3,3,3]}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/weather", `{"rain_days":[3]}`).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/weather/days", `{"on":"`+day(1)+`","weather":"wet"}`).want(http.StatusOK).into(&w)
	require.Equal(t, []api.WeatherDay{{On: day(1), Dry: false}}, w.Days)
	require.Equal(t, []string{"/on"}, c.do("POST", "/api/v1/weather/days", `{"on":"`+day(20)+`","weather":"wet"}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/weather/days", `{"on":"`+day(1)+`","weather":"unknown"}`).want(http.StatusOK).into(&w)
	require.Empty(t, w.Days)

	var list api.DryOperationList
	c.do("GET", at("/api/v1/models/", rev.ModelID)+"/dry-operations", nil).want(http.StatusOK).into(&list)
	require.NotEmpty(t, list.Operations)
	name := list.Operations[0].Operation
	c.do("POST", at("/api/v1/models/", rev.ModelID)+"/dry-operations", map[string]any{"operations": []string{name}}).want(http.StatusOK).into(&list)
	require.True(t, list.Operations[0].NeedsDry)
	require.Equal(t, []string{"/operations/0"}, c.do("POST", at("/api/v1/models/", rev.ModelID)+"/dry-operations", `{"operations":["weld"]}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("GET", "/api/v1/models/9999/dry-operations", nil).want(http.StatusNotFound)
	b := c.makeBuild(rev.ID, sp.ID, 2)
	require.True(t, *b.Operations[0].NeedsDry)
}
