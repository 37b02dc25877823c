package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestWordingPage(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	const at = "/settings/sheets/handover_front.tmpl"
	b.get("/settings").has("main", "Wording of the sheets")
	b.get("/settings/sheets").has("table", "of the house")
	b.get(at).has("textarea", "| Tonight |").has(".lead", "The house wording is in use.")
	look := func(path, text string) *browser {
		form := b.Find("form:has(textarea)")
		form.SetAttr("action", at+path)
		return b.submit("form:has(textarea)", "text", text)
	}
	look("/look", "# Tonight\n- Set it down, {{.Owner}}.").has(".look li", "Set it down, B. Sample.").has("textarea", "Set it down")
	require.Equal(t, http.StatusOK, b.Status)
	look("/look", "- a\n- {{.Colour}}").has(".wrong-top", "Line 2: there is no field .Colour").has("textarea", "{{.Colour}}")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	look("/look.pdf", "- {{.Colour}}").has(".wrong-top", "Line 1: there is no field .Colour")
	look("", "- a\n- {{.Colour}}").has(".is-wrong", "Line 2: there is no field .Colour")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	look("", "- Set it down.").has(".said", "Kept").has(".lead", "Your own wording is in use.").has("textarea", "- Set it down.")
	b.submit("form:has(input[value=house])").has(".said", "The house wording is in use again").has("aside", "As it was until")
	b.get(at+"?before=1").has("textarea", "- Set it down.")
	require.Equal(t, http.StatusNotFound, b.get("/settings/sheets/letter.tmpl").Status)
}
