package answer

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/postgres"
)

// SheetWording is the wording of one part of a sheet as the maker sees it.
type SheetWording struct {
	house.Wording
	Title  string
	House  string   // the house wording
	Text   string   // the one to edit: the maker's own, else that of the house
	Own    bool     // the maker's own is kept
	Wrong  string   // why it cannot be used, with its line; the house wording stands in
	Fields []string // that it may name
}

// wordingTitles names the parts of sheets; a new one goes by its file until it is here.
var wordingTitles = map[string]string{
	"handover_front.tmpl": "Handover sheet, side one", "handover_back.tmpl": "Handover sheet, side two", "site_sheet.tmpl": "Site sheet", "run_cautions.tmpl": "Run sheet, cautions",
	"order_terms.tmpl": "Order confirmation, terms", "quote_terms.tmpl": "Quote, terms", "quote_delays.tmpl": "Quote, what could delay it", "quote_guarantee.tmpl": "Quote, guarantee",
	"quote_not_included.tmpl": "Quote, not included", "jobcard_cautions.tmpl": "Job card, cautions", "sawing_cautions.tmpl": "Sawing card, cautions",
	"movement_rules.tmpl": "Movement record, rules", "register_words.tmpl": "Register of boxes, what the paper is",
}

// WordingTitle names a part of a sheet.
func WordingTitle(name string) string {
	if t := wordingTitles[name]; t != "" {
		return t
	}
	return strings.ReplaceAll(strings.TrimSuffix(name, ".tmpl"), "_", " ")
}

type tryingKey struct{}

// trying is a wording that is looked at before it is kept.
type trying struct {
	name, text string
	said       []paper.Passage
	wrong      error
}

// wording is that of the maker for a paper drawn now: the record over the files over the
// house. A mistake in it is noted for the Day sheet and stops nothing.
func (r *Room) wording(ctx context.Context, number string) *paper.Words {
	list, err := r.House.WordingList(ctx)
	if err != nil {
		return r.Words // the paper's own queries will say so
	}
	own := map[string]string{}
	for _, w := range list {
		if w.Body != nil {
			own[w.Name] = *w.Body
		}
	}
	try, _ := ctx.Value(tryingKey{}).(*trying)
	if try != nil {
		own[try.name] = try.text
		words, _ := r.Words.With(own, func(name string, err error) {
			if name == try.name {
				try.wrong = err
			}
		})
		return words.Heard(func(name string, said []paper.Passage) {
			if name == try.name {
				try.said = said
			}
		})
	}
	if len(own) == 0 {
		return r.Words
	}
	words, _ := r.Words.With(own, func(name string, err error) {
		// What cannot be noted must not stop the paper either.
		_ = r.House.WordingFailed(ctx, name, clip(number, 200), WordingMistake(err))
	})
	return words
}

// wordingFile finds the file's name at the start of what is said against it.
var wordingFile = regexp.MustCompile(`^[a-z_]+\.tmpl:(\d+): `)

// WordingMistake says what is wrong with a wording in the reader's words: Line 3: ...
func WordingMistake(err error) string {
	return wordingFile.ReplaceAllString(err.Error(), "Line $1: ")
}

// WordingList gives every part of a sheet whose wording can be changed.
func (r *Room) WordingList(ctx context.Context) ([]SheetWording, error) {
	list, err := r.House.WordingList(ctx)
	if err != nil {
		return nil, err
	}
	kept := map[string]house.Wording{}
	for _, w := range list {
		kept[w.Name] = w
	}
	var out []SheetWording
	for _, name := range paper.WordingNames() {
		w, ok := kept[name]
		if !ok {
			w.Name = name
		}
		one, err := sheetWording(w)
		if err != nil {
			return nil, err
		}
		out = append(out, one)
	}
	slices.SortFunc(out, func(a, b SheetWording) int { return strings.Compare(a.Title, b.Title) })
	return out, nil
}

// WordingGet reads the wording of a part of a sheet; NotFound for one that no sheet has.
func (r *Room) WordingGet(ctx context.Context, name string) (SheetWording, error) {
	if !slices.Contains(paper.WordingNames(), name) {
		return SheetWording{}, fault.New(fault.NotFound, "No sheet has the wording %q.", name)
	}
	w, err := r.House.WordingGet(ctx, name)
	if err != nil {
		return SheetWording{}, err
	}
	return sheetWording(w)
}

func sheetWording(w house.Wording) (SheetWording, error) {
	text, err := paper.BuiltinWording(w.Name)
	if err != nil {
		return SheetWording{}, err
	}
	out := SheetWording{Wording: w, Title: WordingTitle(w.Name), House: text, Text: text, Fields: paper.WordingFields(w.Name)}
	if w.Body != nil {
		out.Own, out.Text = true, *w.Body
		if err := paper.CheckWording(w.Name, *w.Body); err != nil {
			out.Wrong = WordingMistake(err)
		}
	}
	return out, nil
}

// WordingPut keeps the maker's wording of a part of a sheet, read at version; nil goes
// back to the house wording. Errors: NotFound, Invalid with the line of the mistake, Stale.
func (r *Room) WordingPut(ctx context.Context, name string, version int, text *string) (SheetWording, error) {
	if _, err := r.WordingGet(ctx, name); err != nil {
		return SheetWording{}, err
	}
	if text != nil {
		plain := plainLines(*text)
		if strings.TrimSpace(plain) == "" {
			return SheetWording{}, fault.Bad("/text", "Write something, or go back to the house wording.")
		}
		if err := paper.CheckWording(name, plain); err != nil {
			return SheetWording{}, fault.Bad("/text", "%s", WordingMistake(err))
		}
		text = &plain
	}
	w, err := r.House.WordingPut(ctx, house.Wording{Name: name, Version: version, Body: text})
	if err != nil {
		return SheetWording{}, err
	}
	return sheetWording(w)
}

// plainLines ends lines as files do, where a form ends them with two characters.
func plainLines(s string) string { return strings.ReplaceAll(s, "\r\n", "\n") }

// WordingLook is a wording tried on a real paper before it is kept.
type WordingLook struct {
	Text  []paper.Passage // what it says there
	On    string          // the paper, in words; made up where the book has none yet
	PDF   []byte
	Wrong string // what is wrong with it, with the line; then the paper has the house wording
}

// newestOf finds the record on which a wording is looked at, and what it is called.
var newestOf = map[string]struct{ sql, called string }{
	"handover": {`SELECT id, number FROM handover WHERE undone_at IS NULL AND (box_id IS NOT NULL OR colony_id IS NOT NULL) ORDER BY (colony_id IS NULL), id DESC LIMIT 1`, "handover"},
	"site":     {`SELECT o.id, o.number FROM sale_order o ORDER BY (o.site_id IS NULL), o.id DESC LIMIT 1`, "order"},
	"order":    {`SELECT id, number FROM sale_order ORDER BY id DESC LIMIT 1`, "order"},
	"run":      {`SELECT id, number FROM run WHERE cancelled_at IS NULL ORDER BY id DESC LIMIT 1`, "run"},
	"quote":    {`SELECT id, coalesce(number, 'the draft') AS number FROM quote ORDER BY id DESC LIMIT 1`, "quote"},
	"jobcard":  {`SELECT id, number FROM build ORDER BY id DESC LIMIT 1`, "build"},
	"sawing":   {`SELECT id, number FROM log ORDER BY id DESC LIMIT 1`, "log"},
}

// WordingTry draws the paper with a wording that is not kept: that of the latest such
// record, else a made-up one. It changes nothing. Errors: NotFound; a mistake in the
// text is no error, it is told of.
func (r *Room) WordingTry(ctx context.Context, name, text string) (WordingLook, error) {
	if !slices.Contains(paper.WordingNames(), name) {
		return WordingLook{}, fault.New(fault.NotFound, "No sheet has the wording %q.", name)
	}
	try := &trying{name: name, text: plainLines(text)}
	var look WordingLook
	if err := paper.CheckWording(name, try.text); err != nil {
		look.Wrong = WordingMistake(err)
	}
	ctx = context.WithValue(ctx, tryingKey{}, try)
	kind, _, _ := strings.Cut(name, "_")
	var err error
	if look.PDF, look.On, err = r.drawNewest(ctx, kind); err != nil {
		return look, err
	}
	if look.PDF == nil || try.said == nil {
		look.On = "a made-up paper"
		if look.PDF, err = paper.SamplePaper(name, r.wording(ctx, "")); err != nil {
			return look, err
		}
	}
	if look.Wrong == "" && try.wrong != nil {
		look.Wrong = WordingMistake(try.wrong)
	}
	look.Text = try.said
	return look, nil
}

// drawNewest draws the paper of the latest record of a kind; nil where there is none or
// it has no paper, such as a log of which nothing is wanted.
func (r *Room) drawNewest(ctx context.Context, kind string) ([]byte, string, error) {
	newest, ok := newestOf[kind]
	if !ok {
		return nil, "", nil
	}
	row, err := postgres.One[struct {
		ID     int64  `db:"id"`
		Number string `db:"number"`
	}](ctx, r.db, newest.sql)
	if fault.Is(err, fault.NotFound) {
		return nil, "", nil
	}
	if err != nil {
		return nil, "", err
	}
	var pdf []byte
	switch kind {
	case "handover":
		h, got := r.Handover.Get(ctx, row.ID)
		if err = got; err == nil {
			pdf, err = r.drawHandover(ctx, h, "")
		}
	case "quote":
		q, got := r.Sales.QuoteGet(ctx, row.ID)
		if err = got; err == nil {
			var f frozenQuote
			if f, err = r.freeze(ctx, q, r.db.Now()); err == nil {
				pdf, err = paper.Quote(f.Doc)
			}
		}
	case "site":
		pdf, err = r.SiteSheet(ctx, row.ID)
	case "order":
		pdf, err = r.OrderConfirmation(ctx, row.ID)
	case "run":
		pdf, err = r.RunSheet(ctx, row.ID)
	case "jobcard":
		pdf, _, err = r.JobCard(ctx, row.ID)
	case "sawing":
		pdf, err = r.SawingCard(ctx, row.ID)
	}
	if fault.Is(err, fault.Conflict) || fault.Is(err, fault.Invalid) {
		return nil, "", nil
	}
	return pdf, newest.called + " " + row.Number, err
}

// wordings: those in which a mistake was found, so that the house wording stands in.
func (s *sheet) wordings(ctx context.Context) error {
	list, err := s.WordingList(ctx)
	if err != nil {
		return err
	}
	failed, err := s.House.WordingTroubles(ctx)
	if err != nil {
		return err
	}
	for _, w := range list {
		said, on := w.Wrong, ""
		for _, f := range failed {
			if f.Name == w.Name && said == "" {
				said, on = f.Said, " on "+f.Paper
			}
		}
		if said != "" {
			s.add("wording", access.Settings, fmt.Sprintf("wording:%s:%d", w.Name, w.Version), "/settings/sheets/"+w.Name, fmt.Sprintf("The house wording stood in for yours%s. %s: %s", on, w.Title, said), w.UpdatedAt, false)
		}
	}
	return nil
}
